"""What the records say when they are counted: durations, rates, what was earned, and charts of them."""
