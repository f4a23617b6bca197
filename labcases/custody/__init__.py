"""Things and the ledger: what exists, where it is, who had it, and the proof."""
