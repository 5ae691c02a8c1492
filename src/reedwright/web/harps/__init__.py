"""Which harp a tune lies best on: the ranked table, and harps side by side."""
