"""Parcels that were posted: which of their things have arrived, and the press that says they all have."""
