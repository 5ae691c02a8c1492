"""Names of pitches as the arrangement file writes them: `F#4`, `Bb3`.

Public: `midi_of`, `is_pitch`.
"""

from __future__ import annotations

import re
from functools import lru_cache

from reedwright.fifths import STEP_SEMITONES

_NAME = re.compile(r"([A-G])(##|#|bb|b)?(-?\d{1,2})")
_ALTER = {"##": 2, "#": 1, "b": -1, "bb": -2, None: 0}


def is_pitch(name: str) -> bool:
    return _NAME.fullmatch(name) is not None


@lru_cache(maxsize=512)
def midi_of(name: str) -> int:
    """MIDI number of a name (middle C, `C4`, is 60). Raises ValueError where it is none."""
    match = _NAME.fullmatch(name)
    if match is None:
        raise ValueError(f"{name!r} is not the name of a pitch")
    step, sign, octave = match.groups()
    return 12 * (int(octave) + 1) + STEP_SEMITONES[step] + _ALTER[sign]
