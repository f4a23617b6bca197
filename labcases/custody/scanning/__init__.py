"""Custody by scanning: things, then a place or a badge, then done; and hand-overs that both sides confirm."""
