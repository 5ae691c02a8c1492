"""Loudness and true peak of sound on disk: measured and set piece by piece, in little memory.

The same measure as `loudness` (ITU-R BS.1770) and the same limiter. Sound of one channel is
measured as the two channels that it becomes in a file.

Public: `LoudnessMeter`, `Level`, `level`, `measured`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.sound.loudness import (
    CEILING_DBTP,
    SILENCE_LUFS,
    TARGET_LUFS,
    Levels,
    LoudnessMeter,
    limited,
    peak_within,
)
from reedwright.sound.spool import Spool

Array32 = npt.NDArray[np.float32]

__all__ = ["Level", "LoudnessMeter", "level", "measured"]

_PIECE = 1 << 18  # frames measured at once
_MARGIN = 4096  # frames around a piece: more than limiter and oversampling reach
_UNDER = 0.3  # dB that the limiter's own ceiling lies under the true peak's
_ROUNDS = 6
_NEAR_ENOUGH = 0.02  # LU
_FILE_CHANNELS = 2


class Level(NamedTuple):
    """How sound is brought to its loudness: a gain, then peaks held under `ceiling` (samples).

    `ceiling` is None where no peak needs it. `levels` are those after it.
    """

    gain: float
    ceiling: float | None
    levels: Levels

    def pieces(self, sound: Spool, rate: int) -> Iterator[Array32]:
        """All of it levelled, in pieces of shape (frames, 2)."""
        for start, stop in sound.pieces(_PIECE):
            made = self._piece(sound, rate, start, stop)[_MARGIN:-_MARGIN]
            yield np.repeat(made, _FILE_CHANNELS, axis=1) if sound.channels == 1 else made

    def _piece(self, sound: Spool, rate: int, start: int, stop: int) -> Array32:
        """With `_MARGIN` frames around it."""
        piece = sound.read(start - _MARGIN, stop + _MARGIN)
        piece *= np.float32(self.gain)
        if self.ceiling is None or np.abs(piece).max(initial=0.0) <= self.ceiling:
            return piece
        return limited(piece, rate, 20 * np.log10(self.ceiling))


def level(
    sound: Spool,
    rate: int,
    target: float = TARGET_LUFS,
    ceiling: float = CEILING_DBTP,
    check: Callable[[], None] = lambda: None,
) -> Level:
    """One gain to `target` LUFS; only where peaks then pass `ceiling` dBTP they are held down.

    Silence stays as it is. `check` is called often; an exception from it ends the work.
    """
    before = measured(Level(1.0, None, Levels(SILENCE_LUFS, -np.inf)), sound, rate, check)
    if before.loudness <= SILENCE_LUFS:
        return Level(1.0, None, before)
    raised = target - before.loudness
    plain = Levels(target, before.peak + raised)
    if plain.peak <= ceiling:
        return Level(_factor(raised), None, plain)
    under = ceiling - _UNDER
    found = Level(_factor(raised), _factor(under), plain)
    for _ in range(_ROUNDS):
        levels = measured(found, sound, rate, check)
        found = found._replace(levels=levels)
        if levels.peak <= ceiling and abs(levels.loudness - target) <= _NEAR_ENOUGH:
            break
        raised += target - levels.loudness
        under -= max(0.0, levels.peak - ceiling)
        found = Level(_factor(raised), _factor(under), levels)
    return found


def measured(
    by: Level, sound: Spool, rate: int, check: Callable[[], None] = lambda: None
) -> Levels:
    """Integrated loudness (LUFS) and true peak (dBTP) of `sound` once it is levelled.

    `check` as in `level`.
    """
    meter = LoudnessMeter(rate, _FILE_CHANNELS if sound.channels == 1 else 1)
    highest = 0.0
    for start, stop in sound.pieces(_PIECE):
        check()
        piece = by._piece(sound, rate, start, stop)
        meter.add(piece[_MARGIN:-_MARGIN])
        highest = peak_within(piece, _MARGIN, len(piece) - _MARGIN, highest)
    return Levels(meter.loudness(), 20 * float(np.log10(highest)) if highest else -np.inf)


def _factor(decibels: float) -> float:
    return float(10 ** (decibels / 20))
