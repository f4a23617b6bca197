"""The pages of the counter, one file a piece of work."""
