"""The sums: the catalogue, and how each is done."""
