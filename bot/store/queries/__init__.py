"""Queries by name, a file a subject."""
