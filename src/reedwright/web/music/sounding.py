"""An arrangement made sound for a page, with the times at which its notes begin and end.

Public: `Times`, `times`, `bar_times`, `timeline_of`, `wav`.
"""

from __future__ import annotations

import io
import wave
from typing import NamedTuple

import numpy as np

from reedwright.sound.clock import Clock
from reedwright.sound.events import Timeline
from reedwright.sound.timing import plan
from reedwright.tab.arrangement import Arrangement
from reedwright.tune.unfold import unfold

_FULL = 32767  # of 16 bits
_PEAK = 0.89  # -1 dBFS


class Times(NamedTuple):
    """Seconds from the beginning of the sound. `notes`: a note's id, when it begins and ends,
    hole, "blow" or "draw" (0 and "" where the harp has none); in order of time."""

    duration: float
    tune_start: float
    notes: tuple[tuple[str, float, float, int, str], ...]


def times(timeline: Timeline) -> Times:
    return Times(
        timeline.duration,
        timeline.tune_start,
        tuple(
            (
                note.id,
                note.span.start,
                note.span.end,
                note.sounding.hole if note.sounding else 0,
                note.sounding.breath.value if note.sounding else "",
            )
            for note in timeline.notes
        ),
    )


def bar_times(arrangement: Arrangement, timeline: Timeline) -> tuple[tuple[int, float, float], ...]:
    """Every bar as it is played: its index as written, when it begins and ends (seconds)."""
    performance = unfold(arrangement.tune, arrangement.voice)
    clock = Clock(performance, timeline.tempi, timeline.speed)
    edges = [float(played.onset) for played in performance.bars] + [float(performance.length)]
    seconds = [timeline.tune_start + clock(edge) for edge in edges]
    return tuple(
        (played.bar.index, begin, end)
        for played, begin, end in zip(performance.bars, seconds[:-1], seconds[1:], strict=True)
    )


def timeline_of(arrangement: Arrangement, speed: float, count_in: bool) -> Timeline:
    return plan(arrangement, speed=speed, count_in=count_in)


def wav(timeline: Timeline) -> bytes:
    """The voice's sound, one channel of 16 bits."""
    from reedwright.sound.voice import RATE, render

    sound = render(timeline).mean(axis=1)
    peak = float(np.abs(sound).max()) or 1.0
    whole = np.round(sound * (_PEAK * _FULL / peak)).astype("<i2")
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(whole.tobytes())
    return out.getvalue()
