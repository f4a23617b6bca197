"""The interface for bench computers: tokens, and what a program may tell and ask."""
