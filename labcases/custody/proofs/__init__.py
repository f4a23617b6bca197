"""Proofs read from the stored ledger: of one event, of growth, and the walk through all of it."""
