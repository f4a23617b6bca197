"""First events of things that came in many at once: what they say, and how they are recorded in lots."""
