"""Storage pools: images are files there, room is reserved for each, and a key for each case erases them."""
