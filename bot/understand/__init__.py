"""A message and what the house looks like, to a verdict. Pure, deterministic, explainable."""
