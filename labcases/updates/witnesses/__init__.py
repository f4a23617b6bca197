"""Telling the ledger's signed head to witnesses outside the lab, so that its past cannot be changed unseen."""
