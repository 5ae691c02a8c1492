"""Sound brought to the rate that listening works at, and kept small enough for an hour of it.

Public: `Gatherer`, `Gathered`, `working_rate`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from reedwright.sound.hearing.model import Array32

# A rate from here up is halved. Reeds of interest lie under 3 kHz and have three partials under
# 10 kHz, so nothing that tells them apart is lost.
_HALVED_FROM = 32_000
_PIECE = 1 << 17  # frames of the given rate worked on at once: the same however blocks are cut
_TAPS = 63  # of the half-band filter: under -60 dB from 0.58 of the new rate up
_FULL = 32_767.0


def working_rate(rate: int) -> float:
    """The rate in Hz that sound of `rate` is listened to at."""
    result = float(rate)
    while result >= _HALVED_FROM:
        result /= 2
    return result


@dataclass(frozen=True, slots=True, eq=False)
class Gathered:
    """A whole recording, one channel at `rate` Hz, as 16-bit numbers (an hour is 160 MB)."""

    pieces: tuple[npt.NDArray[np.int16], ...]
    starts: npt.NDArray[np.int64]
    rate: float
    frames: int

    def part(self, first: int, last: int) -> Array32:
        """Frames `first` to before `last`, zeros where the recording is not."""
        found = np.zeros(max(0, last - first), dtype=np.float32)
        k = max(0, int(np.searchsorted(self.starts, first, side="right")) - 1)
        while k < len(self.pieces) and self.starts[k] < last:
            start = int(self.starts[k])
            low, high = max(first, start), min(last, start + len(self.pieces[k]))
            if high > low:
                found[low - first : high - first] = self.pieces[k][low - start : high - start]
            k += 1
        return found / np.float32(_FULL)


class Gatherer:
    """Takes blocks of any length, gives them back at the working rate in even pieces."""

    def __init__(self, rate: int) -> None:
        self.rate = working_rate(rate)
        self._halvings = round(np.log2(rate / self.rate))
        self._halvers = [_Halver() for _ in range(self._halvings)]
        self._waiting: list[Array32] = []
        self._count = 0
        self._kept: list[npt.NDArray[np.int16]] = []

    def add(self, block: Array32) -> None:
        """Take in a block of shape (frames,). What is not a number counts as silence."""
        block = np.nan_to_num(np.asarray(block, dtype=np.float32), posinf=0.0, neginf=0.0)
        self._waiting.append(block)
        self._count += len(block)
        if self._count < _PIECE:
            return
        joined = np.concatenate(self._waiting)
        whole = len(joined) // _PIECE * _PIECE
        for first in range(0, whole, _PIECE):
            self._keep(joined[first : first + _PIECE])
        self._waiting, self._count = [joined[whole:].copy()], len(joined) - whole

    def finish(self) -> Gathered:
        """All of it."""
        if self._count:
            self._keep(np.concatenate(self._waiting))
        self._waiting, self._count = [], 0
        tail: Array32 = np.zeros(0, dtype=np.float32)
        for halver in self._halvers:
            tail = np.concatenate([halver.add(tail), halver.finish()])
        self._store(tail)
        lengths = [len(piece) for piece in self._kept]
        starts = np.concatenate([[0], np.cumsum(lengths)[:-1]]) if lengths else np.zeros(0)
        return Gathered(tuple(self._kept), starts.astype(np.int64), self.rate, sum(lengths))

    def _keep(self, piece: Array32) -> None:
        for halver in self._halvers:
            piece = halver.add(piece)
        self._store(piece)

    def _store(self, piece: Array32) -> None:
        if len(piece):
            self._kept.append(np.rint(np.clip(piece, -1, 1) * _FULL).astype(np.int16))


class _Halver:
    """Half the rate, piece by piece, without delay: a windowed-sinc low pass (any textbook)."""

    def __init__(self) -> None:
        reach = np.arange(_TAPS) - _TAPS // 2
        taps = 0.46 * np.sinc(0.46 * reach) * np.hamming(_TAPS)
        self._taps = (taps / taps.sum()).astype(np.float32)
        self._held: Array32 = np.zeros(_TAPS // 2, dtype=np.float32)

    def add(self, piece: Array32) -> Array32:
        whole = np.concatenate([self._held, piece])
        steps = max(0, (len(whole) - _TAPS) // 2 + 1) if len(whole) >= _TAPS else 0
        if not steps:
            self._held = whole
            return np.zeros(0, dtype=np.float32)
        result = self._filtered(whole[: 2 * (steps - 1) + _TAPS])
        self._held = whole[2 * steps :]
        return result

    def finish(self) -> Array32:
        return self.add(np.zeros(_TAPS // 2, dtype=np.float32))

    def _filtered(self, sound: Array32) -> Array32:
        from scipy.signal import upfirdn

        found = upfirdn(self._taps, sound, down=2)
        # The first whole answer stands at frame _TAPS - 1, an even number.
        first = (_TAPS - 1) // 2
        count = (len(sound) - _TAPS) // 2 + 1
        return np.asarray(found[first : first + count], dtype=np.float32)


def spans(total: int, step: int) -> Iterator[tuple[int, int]]:
    """0 to `total` in parts of `step`."""
    for first in range(0, total, step):
        yield first, min(total, first + step)
