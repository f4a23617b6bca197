"""What an import writes into the ledger for each of its things."""
