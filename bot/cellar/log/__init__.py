"""What was said and done, and what it looks like when it is read."""
