"""A collection of tunes with an index of its melodies.

Public: `Collection`, `build_collection`, `collection_of`, `collection_from_places`, `Start`.

All melodies stand one after the other in flat arrays, with a gap (`GAP`) after every strip.
The index is one sorted array: for each place the next `DEPTH` intervals, modulo the octave, as
one number. Notes that go on with the same intervals are neighbours in it, so places of any
shorter run of intervals are one stretch that two bisections find, in a thousand tunes or in
fifty thousand. Nineteen bytes a note in memory; the arrays may as well lie in a file.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from reedwright.tune.likeness.melody import MelodyNote, strips
from reedwright.tune.likeness.model import Listed
from reedwright.tune.model import Tune

DEPTH = 6  # intervals
GAP = -10_000  # in place of a pitch
_BASE = 13  # twelve intervals, and one sign for "no further note in this strip"
_NONE = 12

LONGEST_PICKUP = 4  # notes before the first bar that may come before later parts, too
PART = 8  # bars: of most dance tunes (common practice, no source)

Places = npt.NDArray[np.int32]


class Start(IntEnum):
    """What begins at a place, as far as bars tell."""

    NOTHING = 0
    BAR = 1
    PART = 2
    TUNE = 3


@dataclass(frozen=True, slots=True, eq=False)
class Collection:
    """Melodies of many tunes. All arrays have shape (places,).

    `midi` is the pitch or `GAP`; `onset` and `length` in quarter notes; `bar` the printed number;
    `firsts`, of shape (tunes,), the first place of each tune. `codes` are sorted, `order` the place
    of each code. `starts`: what begins there (`Start`).
    """

    tunes: Sequence[Listed]
    midi: npt.NDArray[np.int16]
    onset: npt.NDArray[np.float32]
    length: npt.NDArray[np.float32]
    bar: npt.NDArray[np.int16]
    firsts: npt.NDArray[np.int64]
    codes: npt.NDArray[np.int32]
    order: Places
    starts: npt.NDArray[np.uint8]

    def tune_at(self, place: int) -> int:
        """Which tune a place belongs to."""
        return int(np.searchsorted(self.firsts, place, "right")) - 1

    def stretch_of(self, intervals: Iterable[int]) -> tuple[int, int]:
        """The part of `order` whose notes go on with these intervals (modulo 12, 1 to `DEPTH`)."""
        code, count = 0, 0
        for each in intervals:
            code = code * _BASE + each % 12
            count += 1
        unit = _BASE ** (DEPTH - count)
        # Of the array's own type: else NumPy would make a copy of all of it first.
        bounds = np.array((code * unit, (code + 1) * unit), dtype=self.codes.dtype)
        low, high = np.searchsorted(self.codes, bounds)
        return int(low), int(high)


def build_collection(tunes: Iterable[Tune]) -> Collection:
    """Index the first voices of tunes. Tunes without notes are listed, too, and never found."""
    return collection_of((_named(tune), strips(tune)) for tune in tunes)


def _named(tune: Tune) -> Listed:
    return Listed(tune.number, tune.title, tune.source, tune.type, tune.key.name, tune.meter.name)


def collection_of(melodies: Iterable[tuple[Listed, list[list[MelodyNote]]]]) -> Collection:
    """Index melodies that were cut into strips elsewhere, or kept since."""
    listed: list[Listed] = []
    firsts: list[int] = []
    midi: list[int] = []
    onset: list[float] = []
    length: list[float] = []
    bar: list[int] = []
    for named, cut in melodies:
        listed.append(named)
        firsts.append(len(midi))
        for strip in cut:
            for note in strip:
                midi.append(note.midi)
                onset.append(note.onset)
                length.append(note.length)
                bar.append(note.bar)
            midi.append(GAP)
            onset.append(0.0)
            length.append(0.0)
            bar.append(0)
    return collection_from_places(
        tuple(listed),
        np.array(midi, dtype=np.int16),
        np.array(onset, dtype=np.float32),
        np.array(length, dtype=np.float32),
        np.array(np.clip(bar, -32768, 32767), dtype=np.int16),
        np.array(firsts, dtype=np.int64),
    )


def collection_from_places(
    tunes: Sequence[Listed],
    midi: npt.NDArray[np.int16],
    onset: npt.NDArray[np.float32],
    length: npt.NDArray[np.float32],
    bar: npt.NDArray[np.int16],
    firsts: npt.NDArray[np.int64],
) -> Collection:
    """Index melodies that are in flat arrays already (see `Collection`)."""
    codes = _codes(midi)
    order = np.argsort(codes, kind="stable").astype(np.int32)
    starts = _starts(midi, bar, firsts)
    return Collection(tunes, midi, onset, length, bar, firsts, codes[order], order, starts)


def _starts(
    midi: npt.NDArray[np.int16], bar: npt.NDArray[np.int16], firsts: npt.NDArray[np.int64]
) -> npt.NDArray[np.uint8]:
    """Where tunes, parts and bars begin. A part: where a repeat leads back, and each eighth bar.

    A tune that begins with a pickup begins at its first bar, too, and its parts with
    as many notes before their bar line.
    """
    places = len(midi)
    found = np.zeros(places, dtype=np.uint8)
    if not places:
        return found
    before = np.concatenate(([GAP], midi[:-1]))
    earlier = np.concatenate(([0], bar[:-1]))
    begins_bar = (bar != earlier) & (midi != GAP) & (before != GAP)
    begins_part = begins_bar & (bar > 0) & ((bar % PART == 1) | (bar < earlier))
    found[begins_bar] = Start.BAR
    own = firsts[firsts < places]
    counted = np.flatnonzero((bar != 0) | (midi == GAP))
    at = np.searchsorted(counted, own)
    first_bars = np.append(counted, places - 1)[at]
    pickups = np.where(first_bars - own <= LONGEST_PICKUP, first_bars - own, 0)
    parts = np.flatnonzero(begins_part)
    lead = pickups[np.maximum(0, np.searchsorted(own, parts, "right") - 1)]
    found[parts] = Start.PART
    found[np.maximum(0, parts - lead)] = Start.PART
    found[own + pickups] = Start.TUNE
    found[own] = Start.TUNE
    found[midi == GAP] = Start.NOTHING
    return found


def _codes(midi: npt.NDArray[np.int16]) -> npt.NDArray[np.int32]:
    """The next intervals from each place as one number; what lies beyond a gap is `_NONE`."""
    places = len(midi)
    wide = np.concatenate((midi.astype(np.int32), np.full(DEPTH + 1, GAP, dtype=np.int32)))
    codes = np.zeros(places, dtype=np.int32)
    going_on = wide[:places] != GAP
    for k in range(DEPTH):
        after, before = wide[k + 1 : k + 1 + places], wide[k : k + places]
        going_on = going_on & (after != GAP)
        codes = codes * _BASE + np.where(going_on, (after - before) % 12, _NONE)
    return codes.astype(np.int32)
