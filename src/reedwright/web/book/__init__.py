"""Books: their plan, a live preview of pages, and making them."""
