"""Telegram: updates in, messages out. The only importers of its library."""
