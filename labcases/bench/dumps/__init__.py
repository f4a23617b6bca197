"""Dumps: ROM, service area, chips and keys, as files that are hashed and found again by family."""
