"""What is kept secret in a case: put in, shown to its engineer, erased."""
