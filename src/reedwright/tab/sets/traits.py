"""What of a tune matters for its place in a set: type, speed, key, how it begins and ends.

Public: `Traits`, `traits_of`, `family_of`, `MINOR_MODES`.
"""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.tune.model import Tune
from reedwright.tune.tempo import quarters_per_minute
from reedwright.tune.tunetypes import type_among
from reedwright.tune.unfold import unfold

MINOR_MODES = frozenset(("minor", "dorian", "phrygian", "locrian"))

OPENING = 8
"""Steps from note to note that make a beginning: about two bars of a reel's first phrase."""

# Types that are danced and played alike stand for one another (common practice, no source).
_FAMILIES = {
    "double jig": "jig",
    "single jig": "jig",
    "hop jig": "slip jig",
    "quickstep": "jig",
    "fling": "schottische",
    "highland": "strathspey",
    "slow air": "air",
    "song": "air",
    "slow march": "march",
    "varsovienne": "mazurka",
    "clog": "hornpipe",
}
_TYPES = (
    "reel", "jig", "double jig", "single jig", "slip jig", "hop jig", "slide", "hornpipe", "clog",
    "polka", "waltz", "mazurka", "varsovienne", "march", "slow march", "quickstep", "strathspey",
    "highland", "schottische", "fling", "barndance", "set dance", "long dance", "country dance",
    "three-two hornpipe", "air", "slow air", "song", "lament", "planxty",
)  # fmt: skip
# Where a tune names no type its metre stands for one (common practice, no source).
_BY_METRE = {
    "2/4": "polka",
    "3/4": "waltz",
    "6/8": "jig",
    "9/8": "slip jig",
    "12/8": "slide",
    "3/2": "three-two hornpipe",
    "4/4": "reel",
    "2/2": "reel",
    "none": "air",
}


class Traits(NamedTuple):
    """`speed` in quarter notes a minute; `seconds` and `notes` of once through; `tonic` 0 for C to
    11 for B, -1 for a tune without key; `first`, `last`: MIDI notes; `opening`: the first steps in
    semitones. `type` empty where neither type nor metre is known."""

    type: str
    speed: float
    seconds: float
    notes: int
    tonic: int
    minor: bool
    mode: str
    first: int
    last: int
    opening: tuple[int, ...]


def family_of(written: str) -> str:
    """The type, those that are played alike as one: `jig` for `double jig`; empty if unknown."""
    found = type_among(written, _TYPES)
    return _FAMILIES.get(found, found)


def traits_of(tune: Tune) -> Traits | None:
    """None for a tune without notes, and for one whose repeats never end."""
    try:
        performance = unfold(tune)
    except ReedwrightError:
        return None
    pitches = [played.note.pitch.midi for played in performance.notes if not played.held]
    if not pitches:
        return None
    speed = quarters_per_minute(tune)
    opening = tuple(b - a for a, b in pairwise(pitches[: OPENING + 1]))
    none = tune.key.mode == "none"
    return Traits(
        type=family_of(tune.type) or _BY_METRE.get(tune.meter.name, ""),
        speed=speed,
        seconds=60 * float(performance.length) / speed,
        notes=len(pitches),
        tonic=-1 if none else tune.key.tonic_pitch_class,
        minor=tune.key.mode in MINOR_MODES,
        mode=tune.key.mode,
        first=pitches[0],
        last=pitches[-1],
        opening=opening,
    )
