"""The formulas, each with its source."""
