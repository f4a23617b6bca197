"""A scan or photo of the paper that the customer signed, kept as evidence."""
