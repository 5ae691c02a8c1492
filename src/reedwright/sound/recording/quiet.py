"""Silence and very low level in a recording.

Public: `LevelWatch`. Levels are RMS in dB of full scale (a square wave at full scale has 0),
measured over 0.1 s. The bounds are our own choice: rooms in which people record are rarely
quieter than -60 dBFS once a phone has set its gain, and playing that does not come above
-45 dBFS leaves little over the noise of its own recorder.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from reedwright.sound.hearing.model import Array32
from reedwright.sound.recording.model import Trouble, TroubleKind
from reedwright.sound.recording.places import stretch

FRAME = 0.1  # seconds
SILENT = -60.0  # dBFS
FAINT = -45.0  # dBFS, for the loudest twentieth of the frames
LONG_SILENCE = 10.0  # seconds
MOST_TOLD = 3
_LOUDEST_SHARE = 0.95
_NOTHING = -200.0  # dBFS


class LevelWatch:
    """Gathers the level of every tenth of a second: an hour is 36,000 of them."""

    def __init__(self) -> None:
        self._power = 0.0  # summed over the frame being filled
        self._held = 0
        self._levels: list[float] = []

    def add(self, sound: Array32, rate: int) -> None:
        """The next stretch, of shape (frames, channels); the loudest channel counts."""
        power = np.square(sound, dtype=np.float64).mean(axis=0)
        square = np.square(sound[:, int(power.argmax())], dtype=np.float64)
        size = max(1, round(FRAME * rate))
        if self._held >= size:  # begun at a higher rate than the file now goes on with
            self._power, self._held = 0.0, 0
        place = 0
        while place < len(square):
            taken = min(size - self._held, len(square) - place)
            if not self._held and taken == size:  # whole frames at once
                whole = (len(square) - place) // size
                means = square[place : place + whole * size].reshape(whole, size).mean(axis=1)
                self._levels += _decibels(means).tolist()
                place += whole * size
                continue
            self._power += float(square[place : place + taken].sum())
            self._held += taken
            place += taken
            if self._held >= size:
                self._levels.append(float(_decibels(np.array(self._power / self._held))))
                self._power, self._held = 0.0, 0

    def troubles(self, duration: float) -> list[Trouble]:
        """What is silent or faint in `duration` seconds."""
        levels = np.array(self._levels) if self._levels else np.array([self._short_level()])
        if float(levels.max()) < SILENT:
            message = (
                "The recording is silent from beginning to end (nothing above "
                f"{SILENT:.0f} dBFS). Check the microphone and its permission, and record again."
            )
            return [Trouble(TroubleKind.SILENCE, 0.0, duration, message)]
        found = _silences(levels, duration)
        loudest = float(np.quantile(levels, _LOUDEST_SHARE))
        if SILENT <= loudest < FAINT:
            message = (
                f"The recording is very quiet: its loudest moments are at {loudest:.0f} dBFS. "
                "Go nearer to the microphone, or raise the recording level."
            )
            found.insert(0, Trouble(TroubleKind.SILENCE, 0.0, duration, message))
        return found

    def _short_level(self) -> float:
        """The level of a recording shorter than a frame."""
        return float(_decibels(np.array(self._power / self._held))) if self._held else _NOTHING


def _silences(levels: npt.NDArray[np.float64], duration: float) -> list[Trouble]:
    """Long silences: the longest ones told, the rest counted."""
    silent = np.concatenate(([False], levels < SILENT, [False]))
    edges = np.flatnonzero(silent[1:] != silent[:-1])
    runs = [
        (first * FRAME, min(last * FRAME, duration))
        for first, last in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
        if (last - first) * FRAME >= LONG_SILENCE
    ]
    longest = sorted(sorted(runs, key=lambda run: run[0] - run[1])[:MOST_TOLD])
    more = len(runs) - len(longest)
    found = []
    for k, (first, last) in enumerate(longest):
        message = (
            f"There is no sound {stretch(first, last)} ({last - first:.0f} s). "
            "Nothing needs doing if that is a pause; else check the microphone."
        )
        if more and k == len(longest) - 1:
            message += f" There are {more} shorter silences besides."
        found.append(Trouble(TroubleKind.SILENCE, first, last, message))
    return found


def _decibels(power: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    level: npt.NDArray[np.float64] = 10 * np.log10(np.maximum(power, 10 ** (_NOTHING / 10)))
    return level
