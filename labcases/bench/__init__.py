"""Examination, the protocol, what has been read and what it is worth to go on."""
