"""An arrangement made sound for a page, with the times at which its notes begin and end.

Public: `Times`, `times`, `bar_times`, `timeline_of`, `wav`.
"""

from __future__ import annotations

import io
import wave
from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

import numpy as np

from reedwright.sound.clock import Clock
from reedwright.sound.events import Click, Timeline
from reedwright.sound.lilt import lilt_of
from reedwright.sound.timing import plan
from reedwright.tab.arrangement import Arrangement
from reedwright.tune.unfold import Performance, unfold

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
    performance, at = _clock(arrangement, timeline)
    edges = [*(at(played.onset) for played in performance.bars), at(performance.length)]
    return tuple(
        (played.bar.index, begin, end)
        for played, begin, end in zip(performance.bars, edges[:-1], edges[1:], strict=True)
    )


def timeline_of(
    arrangement: Arrangement, speed: float, count_in: bool, clicks: bool = False
) -> Timeline:
    """`clicks`: one on every felt beat of the tune, besides those of the count-in. Raises as
    `plan`."""
    timeline = plan(arrangement, speed=speed, count_in=count_in)
    if not clicks:
        return timeline
    return replace(timeline, clicks=(*timeline.clicks, *_beats(arrangement, timeline)))


def _clock(
    arrangement: Arrangement, timeline: Timeline
) -> tuple[Performance, Callable[[Fraction], float]]:
    """The tune as played, and the seconds at which its quarter notes fall."""
    performance = unfold(arrangement.tune, arrangement.voice)
    clock = Clock(performance, timeline.tempi, timeline.speed)
    return performance, lambda quarter: timeline.tune_start + clock(float(quarter))


def _beats(arrangement: Arrangement, timeline: Timeline) -> Iterator[Click]:
    """The felt beats, the first of each bar strong; none where the metre is free."""
    performance, at = _clock(arrangement, timeline)
    lilt = lilt_of(arrangement.tune)
    before = None
    passed = Fraction(0)  # of the printed bar, where a bar line cuts it in two
    for played in performance.bars:
        bar, full = played.bar, played.bar.meter.bar_length
        goes_on = before is not None and before.number == bar.number
        if full is None:
            before, passed = bar, Fraction(0)
            continue
        short = bar.length < full
        if not (goes_on and 0 < passed < full):
            passed = full - bar.length if short and bar.number == 0 else Fraction(0)
        felt = lilt.felt_beat(bar.meter)
        beat = -(-passed // felt)  # the first at or after where the piece begins
        while beat * felt < passed + bar.length:
            yield Click(at(played.onset + beat * felt - passed), beat == 0)
            beat += 1
        before, passed = bar, passed + bar.length


def wav(timeline: Timeline, progress: Callable[[float], None] = lambda share: None) -> bytes:
    """The voice's sound, one channel of 16 bits.

    `progress` is told the share done; what it raises ends the work.
    """
    from reedwright.sound.voice import RATE, render

    sound = render(timeline, progress=progress).mean(axis=1)
    peak = float(np.abs(sound).max(initial=0.0)) or 1.0
    whole = np.round(sound * (_PEAK * _FULL / peak)).astype("<i2")
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(whole.tobytes())
    return out.getvalue()
