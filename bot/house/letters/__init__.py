"""Reminders: planned, written in one letter, changed."""
