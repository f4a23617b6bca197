"""Stocktakes: what lies where is counted by scanning, compared with the ledger, put right, and signed off."""
