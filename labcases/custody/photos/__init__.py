"""Photographs of things: how a picture is taken in, kept, shown and compared."""
