"""What pieces of a message may mean, a file a subject."""
