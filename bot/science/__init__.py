"""Numbers. Pure functions with their units in their names, each with its source."""
