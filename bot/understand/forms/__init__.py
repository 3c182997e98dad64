"""Messages of one form, and leaflets."""
