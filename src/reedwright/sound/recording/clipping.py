"""Clipping: tops of the wave cut off flat, because the level was too high for the recorder.

Public: `ClippingWatch`.

Two signs, in every stretch of a quarter of a second, channel by channel:

1. Flat tops: three samples or more that are equal, at the outermost level of the stretch, with
   steep sides, and that several times. Peaks near full scale alone are no clipping, nor are
   round tops, however loud; nor is an automatic gain or a soft limiter, which round them.
2. Lossy coding makes flat tops wavy. So also: of the crests that reach 0.88 of full scale, a fifth
   or more stay there three times as long as they took to rise from half of that. A sine stays
   1.9 times as long as it rises, one cut off at half of its height 6 times. After AAC, MP3 or
   Opus this notices clipping by 6 dB, and in part by 3.5 dB; less is not noticed there. A wave
   that saturates as hard as that is told as clipped, too.

Our own rules, calibrated in the tests.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from reedwright.sound.hearing.model import Array32
from reedwright.sound.recording.chunks import Chunk, Chunks
from reedwright.sound.recording.model import Trouble, TroubleKind
from reedwright.sound.recording.places import place_in, stretch

CHUNK = 0.25  # seconds
QUIETEST = 0.1  # of full scale: flat tops below it are no loud playing
SAME_LEVEL = 0.005  # of the level: flat tops this near to each other and the outermost are alike
STEEP = 4  # steps of the sample's own fineness that the wave falls beside a flat top
FEWEST_TOPS = 3  # in one stretch
CREST = 0.88  # of full scale, for the second sign
LINGERS = 3  # times as long at the crest as rising to it from half its height
SHORTEST_CREST = 4  # samples
FLAT_SHARE = 0.2  # of the crests of a stretch
FEWEST_CRESTS = 4  # flat ones in one stretch
MERGED_WITHIN = 5.0  # seconds between clipped stretches that are told as one
MOST_TOLD = 3
_LOWEST_FINENESS = 1e-6  # of full scale: float samples have no steps


class ClippingWatch:
    """Remembers the stretches in which the sound clips."""

    def __init__(self) -> None:
        self._chunks = Chunks(CHUNK)
        self._clipped: list[tuple[float, float]] = []

    def add(self, sound: Array32, rate: int, start: float) -> None:
        """The next piece, of shape (frames, channels), that begins at `start` (seconds)."""
        for chunk in self._chunks.add(sound, rate, start):
            self._look(chunk)

    def _look(self, chunk: Chunk) -> None:
        for channel in chunk.sound.T:
            if _flat_tops(channel) >= FEWEST_TOPS or _lingers(channel):
                self._clipped.append((chunk.start, chunk.start + len(channel) / chunk.rate))
                return

    def troubles(self) -> list[Trouble]:
        """One message for each run of clipped stretches, or one for all where there are many."""
        for chunk in self._chunks.rest():
            self._look(chunk)
        runs = _joined(self._clipped)
        if not runs:
            return []
        if len(runs) > MOST_TOLD:
            places = ", ".join(place_in(first) for first, _ in runs[:MOST_TOLD])
            where = f"in {len(runs)} places, the first at {places}"
            return [_trouble(runs[0][0], runs[-1][1], where)]
        return [_trouble(first, last, stretch(first, last)) for first, last in runs]


def _trouble(start: float, end: float, where: str) -> Trouble:
    message = (
        f"The sound is clipped {where}: it was too loud for the recorder and its tops are cut "
        "off. Lower the recording level or go further from the microphone, and record again."
    )
    return Trouble(TroubleKind.CLIPPING, start, end, message)


def _joined(stretches: list[tuple[float, float]]) -> list[tuple[float, float]]:
    joined: list[tuple[float, float]] = []
    for start, end in stretches:
        if joined and start - joined[-1][1] <= MERGED_WITHIN:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return joined


def _flat_tops(sound: Array32) -> int:
    """How many flat tops at the outermost level of either side."""
    if len(sound) < 5 or float(np.abs(sound).max()) < QUIETEST:
        return 0
    steps = np.abs(np.diff(sound))
    moving = steps[steps > _LOWEST_FINENESS]
    fineness = float(moving.min()) if len(moving) else _LOWEST_FINENESS
    flat = np.concatenate(([False], steps < fineness / 2, [False]))
    edges = np.flatnonzero(flat[1:] != flat[:-1])
    first, last = edges[::2], edges[1::2]  # samples first..last are equal
    inside = (last - first >= 2) & (first > 0) & (last < len(sound) - 1)
    first, last = first[inside], last[inside]
    level = sound[first]
    fall = STEEP * fineness
    steep = (np.abs(level) - np.abs(sound[first - 1]) >= fall) & (
        np.abs(level) - np.abs(sound[last + 1]) >= fall
    )
    level = level[steep]
    highest, lowest = float(sound.max()), float(sound.min())
    tops = _near(level, highest) if highest >= QUIETEST else 0
    return tops + (_near(level, lowest) if lowest <= -QUIETEST else 0)


def _near(levels: npt.NDArray[np.float32], outermost: float) -> int:
    return int(np.count_nonzero(np.abs(levels - outermost) <= SAME_LEVEL * abs(outermost)))


def _lingers(sound: Array32) -> bool:
    """Whether many crests near full scale are broader than their rise allows."""
    crests = flat = 0
    for side in (sound, -sound):
        high = np.concatenate(([False], side >= CREST, [False]))
        edges = np.flatnonzero(high[1:] != high[:-1])
        if len(edges) < 2 * FEWEST_CRESTS:
            crests += len(edges) // 2
            continue
        first, last = edges[::2], edges[1::2]
        low = np.flatnonzero(side < CREST / 2)
        before = np.searchsorted(low, first) - 1
        risen = before >= 0
        first, last, before = first[risen], last[risen], before[risen]
        long = last - first
        crests += len(first)
        flat += int(
            np.count_nonzero((long >= SHORTEST_CREST) & (long >= LINGERS * (first - low[before])))
        )
    return flat >= FEWEST_CRESTS and flat > FLAT_SHARE * crests
