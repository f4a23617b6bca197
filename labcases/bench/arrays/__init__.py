"""Arrays: their members, how they were put together, and whether what is left of them is enough."""
