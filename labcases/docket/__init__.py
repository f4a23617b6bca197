"""The front pages of the six places, the page of a case, the next safe step; scanning and searching."""
