"""A message's words: numbers, names, times, spans, clauses."""
