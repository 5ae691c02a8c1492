"""Tunes that are alike: a tune found in a collection from a few of its notes.

Key and speed do not matter, and a few notes may be wrong, left out or added. `collection`
holds the melodies of many tunes with an index, `finding.find` looks notes up in it, `contour`
looks up ups and downs alone, `typed` reads what a person types.

Whole tunes are compared by `sameness.compare`, whatever their key, note lengths, ornaments, bar
lines and parts; `whole.alike` finds what is like a tune in a collection, `pairing` and `sketches`
are for very many.
"""
