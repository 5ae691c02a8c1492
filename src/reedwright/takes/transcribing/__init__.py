"""First notation of a tune that nobody has written down: from notes heard to a tune.

Start at `transcribe.transcribe`. On the way: `cleaning` (notes and cuts), `grid` (beats and
places in them), `metre` (bars), `keys`, `folding` (repeats), `writing` (the tune).
"""
