"""Owners, bearers, payers: the people and firms a case belongs to, is brought by and is paid by."""
