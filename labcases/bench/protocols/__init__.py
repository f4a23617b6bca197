"""The bench protocols as a lab keeps them: versions, the one a patient started with, what was noted and lifted."""
