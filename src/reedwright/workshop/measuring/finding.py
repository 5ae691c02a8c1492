"""Stretches of held sound, found while the recording streams by.

A stretch begins where most of the power stands in lines of the spectrum. It ends where it does so
no more, or where it has sunk far under what sounded before. Within it, a cut is made wherever the
lines before and after differ: another reed has taken over, with no pause between them.

Public: `Finder`, `Held`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from reedwright.workshop.measuring.frames import HOP, Look
from reedwright.workshop.measuring.partials import Array32, Array64

_TONAL = 0.5  # share of the power in lines
_QUIETEST = -72.0  # dBFS
_UNDER = 25.0  # dB under what sounded before
_FORGOTTEN = 0.2  # dB by which what sounded before counts less, each look
_GAP = 2  # looks without tone that end a stretch
_APART, _SPAN = 2, 4  # looks: what lies so far to either side is compared, over so many
_DIFFERENT = 0.22  # one less the likeness of the lines before and after
_LOOKAHEAD = 30  # looks after a cut until what precedes it is given out
_CHECKED = 50  # looks between searches for cuts
_LONGEST = 2_000  # looks: 20 s; a tone held longer is measured on parts of it


class Held(NamedTuple):
    """A stretch from look `first` to before look `last`, and whether others join without a gap.

    `goes_on`: it was cut only because it is very long, and what follows is the same tone.
    """

    first: int
    last: int
    joined_before: bool
    joined_after: bool
    goes_on: bool = False


class Finder:
    """Takes looks in order, gives stretches that are complete."""

    def __init__(self) -> None:
        self._next = 0  # the look that comes next
        self._loud = -200.0
        self._silent = 0
        self._first: int | None = None  # of the open stretch
        self._joined = False  # the open stretch follows another without a gap
        self._bands: list[Array32] = []  # of the open stretch, from `_first` on

    @property
    def open_from(self) -> int | None:
        """The look at which the open stretch begins; None where nothing sounds."""
        return self._first

    @property
    def needed_from(self) -> int:
        """The earliest look whose sound may still be asked for."""
        return self._next if self._first is None else self._first

    def add(self, looks: Look) -> list[Held]:
        """The next looks; the stretches that they completed."""
        found: list[Held] = []
        for level, share, bands in zip(looks.level, looks.share, looks.bands, strict=True):
            found += self._one(float(level), float(share), bands)
        return found

    def finish(self) -> list[Held]:
        """What is still open."""
        return [] if self._first is None else self._closed(self._next - self._silent)

    def _one(self, level: float, share: float, bands: Array32) -> list[Held]:
        at, self._next = self._next, self._next + 1
        self._loud = max(self._loud - _FORGOTTEN, level if share > _TONAL else -200.0)
        sounds = share > _TONAL and level > max(_QUIETEST, self._loud - _UNDER)
        if self._first is None:
            if sounds:
                self._first, self._joined, self._silent = at, False, 0
                self._bands = [bands]
            return []
        self._bands.append(bands)
        self._silent = 0 if sounds else self._silent + 1
        if self._silent >= _GAP:
            return self._closed(self._next - self._silent)
        if (self._next - self._first) % _CHECKED:
            return []
        return self._given_out(self._first)

    def _given_out(self, first: int) -> list[Held]:
        """What can be given out of the open stretch before it ends."""
        cuts = [cut for cut in self._cuts() if first + cut <= self._next - _LOOKAHEAD]
        found = []
        for cut in cuts:
            found.append(self._up_to(first + cut, joined_after=True))
        if self._first is not None and self._next - self._first >= _LONGEST:
            found.append(self._up_to(self._next, joined_after=True, goes_on=True))
        return found

    def _closed(self, end: int) -> list[Held]:
        assert self._first is not None
        first = self._first
        del self._bands[end - first :]
        found = [self._up_to(first + cut, joined_after=True) for cut in self._cuts()]
        if self._first < end:
            found.append(self._up_to(end, joined_after=False))
        self._first, self._bands, self._joined, self._silent = None, [], False, 0
        return found

    def _up_to(self, end: int, *, joined_after: bool, goes_on: bool = False) -> Held:
        assert self._first is not None
        held = Held(self._first, end, self._joined, joined_after, goes_on)
        self._bands = self._bands[end - self._first :]
        self._first, self._joined = end, joined_after
        return held

    def _cuts(self) -> list[int]:
        """Looks of the open stretch, counted from its first, at which the lines change."""
        different = _differences(np.asarray(self._bands, dtype=np.float32))
        cuts: list[int] = []
        reach = _APART + _SPAN
        for at in range(len(different)):
            around = different[max(0, at - reach) : at + reach + 1]
            highest = different[at] > _DIFFERENT and different[at] == around.max()
            if highest and (not cuts or at - cuts[-1] > reach):
                cuts.append(at)
        return cuts


def _differences(bands: Array32) -> Array64:
    """For each look, one less the likeness of the lines before and after it (0 at the edges)."""
    count = len(bands)
    found = np.zeros(count)
    reach = _APART + _SPAN
    if count < 2 * reach + 1:
        return found
    sums = np.concatenate([np.zeros((1, bands.shape[1])), np.cumsum(bands, axis=0, dtype=float)])
    middle = np.arange(reach, count - reach)
    before = sums[middle - _APART] - sums[middle - reach]
    after = sums[middle + reach + 1] - sums[middle + _APART + 1]
    lengths = np.sqrt(np.sum(before**2, axis=1) * np.sum(after**2, axis=1)) + 1e-9
    found[middle] = 1 - np.sum(before * after, axis=1) / lengths
    return found


def seconds_of(look: int) -> float:
    """The middle of a look."""
    return look * HOP
