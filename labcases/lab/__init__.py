"""The lab itself: its profile and terms, its places, its staff and their roles, symbols, the timetable."""
