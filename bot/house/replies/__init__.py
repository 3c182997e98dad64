"""Letters answered: by button and in words."""
