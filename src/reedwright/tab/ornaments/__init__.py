"""Ornaments that the harp can play: cuts, taps, rolls, triplets, slides and warbles.

`model` says what an ornament is; `playable` what a hole's neighbours allow; `suggest` where a
player would put more; `dress` writes them into the tune as grace notes and split notes.
docs/ornaments.md tells more.
"""
