"""The shelf: search, sets and evenings, what is kept of a tune."""
