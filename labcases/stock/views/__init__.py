"""The face of the stockroom, by what is looked at."""
