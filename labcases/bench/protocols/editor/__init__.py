"""Writing a new version of a protocol: a draft in the session of who writes it, step by step, until it is published."""
