"""The forms of reading."""
