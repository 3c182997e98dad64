"""Who may speak, for which house, and how it is set up."""
