"""Two records of one customer become one, with everything attached, and can be parted again."""
