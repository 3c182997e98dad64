"""One household: one transaction a message, one row a reminder."""
