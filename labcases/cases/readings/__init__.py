"""What a medium said of itself: read at the counter or the bench, compared with what was noted, and answered."""
