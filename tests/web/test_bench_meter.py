"""The reed meter without a page: reeds of known pitch are read as what they are.

Reeds are made by arithmetic (tests/workshop/made_reeds.py), so their pitch is exact; how near a
reading comes is what docs/reed-measuring.md promises of tones of 0.3 s (0.06 cents at worst) and
of beats on a second of sound (0.06 Hz).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import asinh, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_reeds import MadeReed, Sound, laid

from reedwright.harp.making import parse_harp
from reedwright.harp.model import Breath, Reed
from reedwright.web.bench.dial import SPAN, WIDEST, angle, dial
from reedwright.web.bench.meter import Aim, Meter, Reading, measurement_of, what_words
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.targets.model import TargetWishes

RATE = 48_000  # what browsers give
CENTS, BEATS_HZ = 0.06, 0.06


def aim(harp: str = "G", reed: Reed | None = None, **wishes: object) -> Aim:
    return Aim(reed_targets(parse_harp(harp), TargetWishes(**wishes)), harp, reed)  # type: ignore[arg-type]


def read(meter: Meter, sound: Sound, block: int = 4800) -> list[Reading]:
    """All readings of a sound that comes in blocks."""
    cut = [sound[at : at + block] for at in range(0, len(sound), block)]
    return [reading for each in cut if (reading := meter.take(each)) is not None]


def heard(reeds: Sequence[MadeReed], aimed: Aim, block: int = 4800) -> list[Reading]:
    seconds = max(reed.seconds for reed in reeds)
    sound = laid([(0.1, reed) for reed in reeds], seconds + 0.3, rate=RATE)
    return read(Meter(RATE, aimed), sound, block)


def test_a_reed_thirteen_cents_sharp_is_read_so_and_named() -> None:
    readings = heard([MadeReed(440 * 2 ** (13 / 1200), 1.2)], aim())
    assert len(readings) > 4
    last = readings[-1]
    assert last.cents == pytest.approx(13.0, abs=CENTS)
    assert (last.hole, last.breath, last.note) == (4, "draw", "A4")  # of a G harp
    assert last.target_hz == pytest.approx(440.0)  # ISO 16
    assert last.words == "4 draw, A4: 13.0 cents sharp; steady"
    assert last.upper_hz is None


def test_how_the_sound_is_cut_makes_no_difference_to_the_last_reading() -> None:
    reed = MadeReed(196.0, 0.5)
    ours, other = heard([reed], aim(), 2048)[-1], heard([reed], aim(), 9000)[-1]
    assert other.hz == pytest.approx(ours.hz, rel=1e-5)


def test_two_reeds_of_one_note_beat_as_they_were_made_to() -> None:
    last = heard([MadeReed(440.0, 0.9), MadeReed(442.5, 0.9, phase=0.3)], aim())[-1]
    assert last.beats == pytest.approx(2.5, abs=BEATS_HZ)
    assert last.hz == pytest.approx(440.0, rel=1e-4)
    assert last.upper_hz == pytest.approx(442.5, rel=1e-4)
    assert "2.5 beats a second" in last.words


def test_an_octave_is_named_as_its_two_reeds_with_what_the_targets_would_beat() -> None:
    """Blow 1 and 4 of a G harp: G3 and G4; the second partial of one meets the other, so they beat
    as often as 2 f1 and f2 differ (Helmholtz)."""
    low, high = 195.998, 393.2
    last = heard([MadeReed(low, 1.0), MadeReed(high, 1.0, phase=0.3)], aim())[-1]
    assert (last.hole, last.breath, last.upper_hole, last.upper_breath) == (1, "blow", 4, "blow")
    assert last.beats == pytest.approx(high - 2 * low, abs=BEATS_HZ)
    assert last.beats_wanted == pytest.approx(0.0, abs=1e-6)


def test_the_reed_that_is_aimed_at_counts_however_far_off_it_is() -> None:
    """3 blow on its way from D4 to E4: a tone under its target at first."""
    raised = aim("G:richter-raised-3-blow", Reed(3, Breath.BLOW))
    last = heard([MadeReed(293.665, 0.5)], raised)[-1]
    assert last.cents == pytest.approx(-200.0, abs=0.1)
    assert (last.hole, last.breath) == (3, "blow")


def test_a_tone_that_is_no_reed_is_said_to_be_none() -> None:
    last = heard([MadeReed(150.0, 0.5)], aim("G:richter"))[-1]  # the lowest reed is G3, 196 Hz
    assert last.cents is None
    assert last.hole == 0
    assert "no reed of this harp" in last.words


def test_a_wavering_reed_is_called_unsteady() -> None:
    """Vibrato of 10 cents up and down is a sine: its standard deviation is 10 / sqrt(2), less what
    a mean over 50 ms takes off it (sin(x)/x at 5.5 Hz: 12 %)."""
    last = heard([MadeReed(440.0, 1.2, vibrato=10.0)], aim())[-1]
    assert last.wander == pytest.approx(0.88 * 10 / sqrt(2), abs=0.4)
    assert last.words.endswith("unsteady")
    even = heard([MadeReed(440.0, 1.2)], aim())[-1]
    assert even.wander == pytest.approx(0.0, abs=0.1)
    assert even.words.endswith("; steady")


def test_pitch_at_the_bench_is_sharper_by_the_pressure_and_as_played_is_not() -> None:
    reed = MadeReed(440.0, 0.5)
    at_bench = heard([reed], aim(pressure=4.0))[-1]
    assert at_bench.cents == pytest.approx(-4.0, abs=CENTS)
    played = Aim(reed_targets(parse_harp("G"), TargetWishes(pressure=4.0)), "G", at_bench=False)
    assert heard([reed], played)[-1].cents == pytest.approx(0.0, abs=CENTS)


def test_silence_is_no_reading_and_sound_that_was_lost_begins_anew() -> None:
    meter = Meter(RATE, aim())
    assert read(meter, np.zeros(RATE, dtype=np.float32)) == []
    read(meter, laid([(0.0, MadeReed(440.0, 1.0))], 0.5, rate=RATE))
    meter.anew()
    assert meter.heard == 0.0
    assert read(meter, np.zeros(RATE // 2, dtype=np.float32)) == []


def test_what_is_kept_is_the_whole_tone_and_tones_of_unknown_reeds_are_none() -> None:
    meter = Meter(RATE, aim())
    read(meter, laid([(0.1, MadeReed(440 * 2 ** (13 / 1200), 0.8))], 1.4, rate=RATE))
    (tone,) = meter.tones
    measured = measurement_of([tone], meter.aim)
    (reed,) = measured.reeds
    assert reed.reed == Reed(4, Breath.DRAW)
    assert reed.cents == pytest.approx(13.0, abs=CENTS)
    assert what_words(measured) == "4 draw"
    assert what_words(measurement_of([], meter.aim)) == ""
    as_said = Aim(meter.aim.targets, "G", Reed(8, Breath.DRAW))
    (said,) = measurement_of([tone], as_said).reeds
    assert said.reed == Reed(8, Breath.DRAW)


def test_the_end_of_listening_ends_what_was_open() -> None:
    meter = Meter(RATE, aim())
    read(meter, laid([(0.1, MadeReed(440.0, 2.0))], 0.9, rate=RATE))
    assert not meter.tones
    meter.end()
    assert len(meter.tones) == 1


@given(st.floats(-300, 300))
def test_the_dial_is_even_on_both_sides_and_keeps_what_is_off_it_at_its_end(cents: float) -> None:
    assert angle(-cents) == pytest.approx(-angle(cents))
    assert abs(angle(cents)) <= WIDEST + 1e-9
    if abs(cents) < SPAN - 1:
        assert angle(cents + 0.5) > angle(cents)
        assert angle(cents) == pytest.approx(WIDEST * asinh(cents / 5) / asinh(10))


def test_the_dial_has_its_target_upright_and_its_numbers_in_order() -> None:
    drawn = dial()
    numbered = [tick for tick in drawn.ticks if tick.number]
    assert [tick.number for tick in numbered] == [
        *("\u221250", "\u221220", "\u221210", "\u22125", "\u22122"),
        *("0", "+2", "+5", "+10", "+20", "+50"),
    ]
    assert next(tick for tick in numbered if tick.number == "0").x1 == drawn.pivot[0]
    assert [tick.x1 for tick in drawn.ticks] == sorted(tick.x1 for tick in drawn.ticks)
