"""Stress by metre, and the count-in."""

from __future__ import annotations

from fractions import Fraction

from reedwright.sound.clock import Clock
from reedwright.sound.events import Click
from reedwright.sound.lilt import Lilt
from reedwright.tune.model import Meter
from reedwright.tune.unfold import Performance, PlayedNote

# How loud a note is by its place, 0 to 1 (assumptions, set by ear's usual order: first beat,
# other felt beats, other beats, between beats).
FIRST_BEAT, FELT_BEAT, OTHER_BEAT, OFF_BEAT = 0.84, 0.77, 0.72, 0.67
ACCENT = 0.12
_ACCENTS = ("accent", "emphasis", ">", "marcato")


def stress(played: PlayedNote, lilt: Lilt) -> float:
    """The velocity of a note, 0 to 1, from where it falls in its bar and its accents."""
    meter = played.bar.meter
    in_bar = (played.beat - 1) * meter.beat_length
    if meter.free:
        level = OTHER_BEAT
    elif in_bar == 0:
        level = FIRST_BEAT
    elif not in_bar % lilt.felt_beat(meter):
        level = FELT_BEAT
    elif not in_bar % (meter.beat_length if meter.compound else 1):
        level = OTHER_BEAT
    else:
        level = OFF_BEAT
    if any(each in _ACCENTS for each in played.note.decorations):
        level += ACCENT
    return min(1.0, level)


def count_in(performance: Performance, lilt: Lilt, clock: Clock) -> tuple[Click, ...]:
    """One bar of the felt beats that ends on the first full bar's first beat.

    An anacrusis sounds within its last beats, as players count; one longer than half a
    bar gets a further bar before it. Times as the clock has them: before the tune they
    are negative. Free metre has no beats to count.
    """
    if not performance.bars:
        return ()
    meter = performance.bars[0].bar.meter
    bar = meter.bar_length
    if bar is None:
        return ()
    anacrusis = _anacrusis(performance, meter, bar)
    felt = lilt.felt_beat(meter)
    clicks_in_bar = int(bar / felt)
    bars = 2 if anacrusis > bar / 2 else 1
    start = anacrusis - bars * bar
    return tuple(
        Click(clock(float(start + k * bar + beat * felt)), beat == 0)
        for k in range(bars)
        for beat in range(clicks_in_bar)
    )


def _anacrusis(performance: Performance, meter: Meter, bar: Fraction) -> Fraction:
    """Quarter notes before the first full bar's first beat."""
    first = performance.bars[0].bar
    return first.length if first.number == 0 and first.length < bar else Fraction(0)
