"""The bench: exact targets, conversions, valves, measured reeds, the search for a better tuning.

Start at `targets` (what each reed is to sound), then `conversion` (from a harp that can be bought
to another tuning), `valving`, `measuring` and `history` (what reeds do sound), `search` (which
reeds are worth changing for a repertoire). Paper for the bench is made in `page`.
"""
