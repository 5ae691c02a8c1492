"""Slower or faster at kept pitch, higher or lower at kept tempo, or both in one pass.

Rubber Band's finer engine (R3) through pedalboard, offline. Of pedalboard's choices that engine
heeds the window and the formants alone; docs/practice-tracks.md says how these were measured.
Slower sound gets its attacks back as they were played (`attacks`).
Long sound is stretched in pieces that are cut at quiet places and joined where their waves match.

Public: `stretched`, `stretch`.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from reedwright.sound.attacks import with_attacks
from reedwright.sound.spool import Spool

Array32 = npt.NDArray[np.float32]

PIECE_SECONDS = 60.0  # stretched at once, before or after, whichever is longer
_CONTEXT = 1.0  # seconds before and after a piece that the engine hears too
_REACH = 6.0  # seconds either way that a quiet place is looked for
_QUIET = 0.03  # seconds over which quiet is judged
_FADE = 0.02  # seconds of the crossfade at a join
# A join may shift a piece by so much to match waves: half the period of a 100 Hz tone.
_MOST_SHIFT = 0.005  # seconds


def stretched(sound: Array32, rate: int, speed: float, cents: float = 0.0) -> Array32:
    """`sound`, shape (frames, channels), at `speed` times its tempo, moved by `cents`.

    Exactly round(frames / speed) frames. All of it goes through the engine at once; for
    more than some minutes use `stretch`.
    """
    frames = round(len(sound) / speed)
    if not len(sound) or (speed == 1.0 and not cents):
        return sound
    from pedalboard import time_stretch

    made = time_stretch(
        np.ascontiguousarray(sound.T),
        float(rate),
        stretch_factor=speed,
        pitch_shift_in_semitones=cents / 100,
        high_quality=True,
        preserve_formants=False,
    )
    made = _of_length(made.T, frames)
    return with_attacks(sound, made, rate, speed) if speed < 1 else made


def _of_length(sound: Array32, frames: int) -> Array32:
    if len(sound) >= frames:
        return np.ascontiguousarray(sound[:frames])
    return np.pad(sound, ((0, frames - len(sound)), (0, 0)))


def stretch(
    source: Spool,
    target: Spool,
    rate: int,
    speed: float,
    cents: float = 0.0,
    progress: Callable[[float], None] = lambda share: None,
) -> None:
    """Add all of `source` to `target`, stretched piece by piece, as `stretched` does.

    Exactly round(frames / speed) frames; every place p of the source is at p / speed of the
    target, within `_MOST_SHIFT` and what the engine itself moves.
    """
    joins = [0, *_joins(source, rate, PIECE_SECONDS * min(1.0, speed)), len(source)]
    margin, half = round(_CONTEXT * rate), round(_FADE * rate / 2)
    ends = [round(join / speed) for join in joins]
    tail: Array32 | None = None  # the last piece around the coming join
    for k in range(len(joins) - 1):
        progress(k / (len(joins) - 1))
        first = max(0, joins[k] - margin)
        made = stretched(
            source.read(first, min(len(source), joins[k + 1] + margin)), rate, speed, cents
        )
        begin = ends[k] - round(first / speed)
        if tail is not None:
            shift = _shift(tail, made, begin, half, round(_MOST_SHIFT * rate))
            made = made[shift:] if shift >= 0 else np.pad(made, ((-shift, 0), (0, 0)))
            made = _crossfaded(tail, made, begin, half)
            begin -= half
        last = ends[k + 1] - round(first / speed)
        if k == len(joins) - 2:
            target.add(_of_length(made[begin:], last - begin))
        else:
            target.add(_of_length(made[begin:], last - half - begin))
            tail = _of_length(made[last - half :], 2 * half)
    progress(1.0)


def _joins(source: Spool, rate: int, seconds: float) -> list[int]:
    """Frames between pieces, each the quietest place near an even division."""
    count = max(1, round(len(source) / (seconds * rate)))
    reach = round(_REACH * rate)
    return [
        _quietest(source, round(len(source) * k / count), reach, round(_QUIET * rate))
        for k in range(1, count)
    ]


def _quietest(source: Spool, near: int, reach: int, window: int) -> int:
    first = max(0, near - reach)
    sound = source.read(first, min(len(source), near + reach))
    power = np.concatenate([[0.0], np.cumsum(np.square(sound, dtype=np.float64).sum(axis=1))])
    around = power[window:] - power[:-window]
    return first + int(np.argmin(around)) + window // 2


def _shift(tail: Array32, made: Array32, begin: int, half: int, most: int) -> int:
    """By how many frames `made` is to start later in itself, so that it goes on as `tail` does."""
    before = tail.sum(axis=1, dtype=np.float64)
    room = min(most, begin - half)
    if room <= 0:
        return 0
    span = made[begin - half - room : begin + half + room].sum(axis=1, dtype=np.float64)
    if len(span) < 2 * (half + room):
        return 0
    alike = np.correlate(span, before, "valid")
    energy = np.convolve(span**2, np.ones(len(before)), "valid")
    if not energy.max() or not before.any():
        return 0
    match = alike / np.sqrt(np.maximum(energy, 1e-6 * energy.max()))
    return int(np.argmax(match)) - room


def _crossfaded(tail: Array32, made: Array32, begin: int, half: int) -> Array32:
    """`made` with the end of the piece before faded into it around `begin`."""
    rise = ((np.arange(2 * half) + 0.5) / (2 * half)).astype(np.float32)[:, None]
    joined = made.copy()
    region = joined[begin - half : begin + half]
    region *= rise
    region += tail * (1 - rise)
    return joined
