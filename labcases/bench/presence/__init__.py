"""Who has a docket open now, so that two people on one patient see each other."""
