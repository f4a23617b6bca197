"""Find: one field for everything in the stockroom."""
