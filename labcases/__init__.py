"""Labcases: the software a data-recovery lab runs on. See DEVELOPERS.md for the map of the rooms."""
