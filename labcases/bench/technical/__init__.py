"""The technical report: everything that was found and done at the bench, for whoever asks for it."""
