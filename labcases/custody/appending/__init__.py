"""The one way into the ledger, below the verbs."""
