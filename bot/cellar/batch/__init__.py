"""One batch: where it is, what is due, what is not well, what it became."""
