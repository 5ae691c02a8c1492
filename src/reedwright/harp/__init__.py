"""The instrument: tunings, keys, valves, and by rule every note that a hole can sound.

Start at `model` (what a harp is), `making` (from words to a harp) and `tunings` (the layouts,
which are data files); `position` counts fifths; `layout` and `report` show a harp.
"""

from reedwright.harp.model import Breath, Harp, Reed, Sounding, Technique, Tuning

__all__ = ["Breath", "Harp", "Reed", "Sounding", "Technique", "Tuning"]
