"""The house around the batches: vessels, turns, costs, days to be ready for."""
