"""The batch's life. Pure: no clock, no files but its own data, no database."""
