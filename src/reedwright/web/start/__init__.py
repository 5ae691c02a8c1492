"""The first page, and bringing in one's own tunes."""
