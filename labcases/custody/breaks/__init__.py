"""Breaks in lines of custody: found at each append, walked through anew every night, answered by a manager."""
