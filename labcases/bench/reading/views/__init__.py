"""The pages of reading."""
