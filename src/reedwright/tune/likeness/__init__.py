"""Tunes that are alike: a tune found in a collection from a few of its notes.

Key and speed do not matter, and a few notes may be wrong, left out or added. `collection`
holds the melodies of many tunes with an index, `finding.find` looks notes up in it, `contour`
looks up ups and downs alone, `typed` reads what a person types.
"""
