"""Pieces of sound gathered to chunks of one length: decoders give them in all sizes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from reedwright.sound.hearing.model import Array32


class Chunk(NamedTuple):
    """Sound of shape (frames, channels) at `rate`, from `start` (seconds) on."""

    sound: Array32
    rate: int
    start: float


class Chunks:
    """Give it pieces; it gives chunks of `seconds`. A change of rate begins a new one."""

    def __init__(self, seconds: float) -> None:
        self._seconds = seconds
        self._waiting: list[Array32] = []
        self._held = 0
        self._rate = 0
        self._start = 0.0

    def add(self, sound: Array32, rate: int, start: float) -> Iterator[Chunk]:
        """A piece that begins at `start`; the chunks that are full now."""
        if self._waiting and rate != self._rate:
            yield from self.rest()
        if not self._waiting:
            self._rate, self._start = rate, start
        self._waiting.append(sound)
        self._held += len(sound)
        size = max(1, round(self._seconds * rate))
        if self._held < size:
            return
        joined = np.concatenate(self._waiting)
        whole = len(joined) // size * size
        for first in range(0, whole, size):
            yield Chunk(joined[first : first + size], rate, self._start + first / rate)
        self._start += whole / rate
        self._waiting = [joined[whole:]] if whole < len(joined) else []
        self._held = len(joined) - whole

    def rest(self) -> Iterator[Chunk]:
        """What is left, once; it may be short."""
        if self._held:
            yield Chunk(np.concatenate(self._waiting), self._rate, self._start)
        self._waiting, self._held = [], 0
