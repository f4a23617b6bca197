"""The bench sheet: every open patient one row, live while it is looked at."""
