"""Kit plans as data, and leaflets made into plans."""
