"""Which reeds are worth changing for a repertoire: exact for one and two, good beyond."""
