"""Bench machines and their ports: which patient runs where since when, and who looks at it tonight."""
