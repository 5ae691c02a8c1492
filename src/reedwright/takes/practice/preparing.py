"""A recording made ready to be cut: decoded to disk, trimmed, rumble taken out, ends faded.

Public: `decoded`, `Decoded`, `cleaned`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from reedwright.sound.recording.model import Recording
from reedwright.sound.rumble import Rumble
from reedwright.sound.spool import Spool
from reedwright.takes.practice.trimming import HOP, Trim

Array32 = npt.NDArray[np.float32]
Progress = Callable[[float], None]

RATE = 44_100  # frames a second of all tracks, as `sound.voice.RATE`
FADE_IN, FADE_OUT = 0.03, 0.15  # seconds at the ends of the whole take
_MOST_CHANNELS = 2
# Channels that differ by less than this share of full scale are one channel recorded twice.
_ALIKE = 1e-4
# A channel whose power over the whole take lies so far under the other's holds no playing, only
# what comes over from the other: one microphone was plugged in (an assumption).
_DEAD = 40.0  # dB


@dataclass(frozen=True, slots=True, eq=False)
class Decoded:
    """A take on disk at `RATE`. `levels` in dBFS, one for each `HOP` seconds. `only`: the one
    channel that is all of it, where its channels are alike or the others are dead; else None."""

    sound: Spool
    levels: Array32
    only: int | None


def decoded(recording: Recording, folder: Path, progress: Progress) -> Decoded:
    """Read all of a recording once. Raises `UnreadableRecording`, `files.NotWritten`."""
    from reedwright.sound.recording.blocks import blocks

    channels = max(1, min(_MOST_CHANNELS, recording.channels))
    spool = Spool(channels, folder)
    levels = _LevelsHeard()
    alike = True
    power = np.zeros(channels)
    try:
        for block in blocks(recording, RATE, channels):
            spool.add(block)
            levels.add(block)
            alike = alike and bool(np.ptp(block, axis=1).max(initial=0.0) <= _ALIKE)
            power += np.square(block, dtype=np.float64).sum(axis=0)
            if recording.seconds:
                progress(min(1.0, len(spool) / RATE / recording.seconds))
    except BaseException:
        spool.close()
        raise
    return Decoded(spool, levels.all(), 0 if alike else _live(power))


def _live(power: npt.NDArray[np.float64]) -> int | None:
    """The only one of two channels that sounds; None where both do."""
    loudest = int(power.argmax())
    dead = power <= power[loudest] * 10 ** (-_DEAD / 10)
    return loudest if dead.sum() == len(power) - 1 else None


class _LevelsHeard:
    """The level of each hop of sound that comes in blocks."""

    _HOP = round(HOP * RATE)
    _SILENT = -120.0  # dBFS

    def __init__(self) -> None:
        self._rest: npt.NDArray[np.float64] = np.zeros(0)
        self._powers: list[npt.NDArray[np.float64]] = []

    def add(self, block: Array32) -> None:
        power = np.square(block, dtype=np.float64).mean(axis=1)
        power = np.concatenate([self._rest, power])
        hops = len(power) // self._HOP
        self._powers.append(power[: hops * self._HOP].reshape(hops, self._HOP).mean(axis=1))
        self._rest = power[hops * self._HOP :]

    def all(self) -> Array32:
        power = np.concatenate([np.zeros(0), *self._powers])
        if len(self._rest):
            power = np.append(power, self._rest.mean())
        return (10 * np.log10(power + 10 ** (self._SILENT / 10))).astype(np.float32)


def cleaned(take: Decoded, trim: Trim, corner: float, folder: Path, progress: Progress) -> Spool:
    """What is kept of the take, without rumble under `corner` (Hz, 0 to leave it in)."""
    start, stop = round(trim.start * RATE), round(trim.end * RATE)
    filter_ = Rumble(RATE, corner) if corner else None
    only = take.only
    clean = Spool(take.sound.channels if only is None else 1, folder)
    try:
        step = 1 << 19
        for first in range(start, stop, step):
            last = min(stop, first + step)
            piece = (
                filter_.without(take.sound, first, last)
                if filter_
                else take.sound.read(first, last)
            )
            piece *= _fades(first - start, last - start, stop - start)[:, None]
            clean.add(piece if only is None else piece[:, only : only + 1])
            progress((last - start) / (stop - start))
    except BaseException:
        clean.close()
        raise
    return clean


def _fades(first: int, last: int, length: int) -> Array32:
    """The gain of the frames `first` to `last` of a sound that fades in and out at its ends."""
    place = np.arange(first, last) + 0.5
    rise = np.clip(place / (FADE_IN * RATE), 0, 1)
    fall = np.clip((length - place) / (FADE_OUT * RATE), 0, 1)
    gain: Array32 = (_smooth(rise) * _smooth(fall)).astype(np.float32)
    return gain


def _smooth(share: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """A raised cosine from 0 to 1."""
    return 0.5 - 0.5 * np.cos(np.pi * share)
