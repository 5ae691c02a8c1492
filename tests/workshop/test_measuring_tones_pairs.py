"""Two reeds together: both pitches, and beats that are known."""

from __future__ import annotations

import numpy as np
import pytest
from made_reeds import RATE, MadeReed, laid, pink
from reed_judges import any_reed, cents, heard, in_a_room

from reedwright.workshop.measuring.model import Tone
from reedwright.workshop.measuring.pairs import meeting

INTERVALS = {(1, 1): 1.0, (2, 1): 2.0, (3, 1): 3.0, (3, 2): 1.5, (4, 3): 4 / 3, (5, 4): 1.25}
INTERVALS |= {(6, 5): 1.2}


def together(low: float, high: float, seconds: float, seed: int, noise: float = 30.0) -> Tone:
    random = np.random.default_rng(seed)
    both = [(0.2, any_reed(random, hz, seconds)) for hz in (low, high)]
    tones = heard(laid(both, seconds + 0.6, noise, seed), RATE)
    assert len(tones) == 1, tones
    return tones[0]


@pytest.mark.parametrize("partials", INTERVALS)
def test_beats_of_three_seconds_are_known_within_a_twentieth_of_a_hertz(
    partials: tuple[int, int],
) -> None:
    """The issue's bound. m times the lower less n times the upper is the rate, by definition."""
    m, n = partials
    random = np.random.default_rng(10 * m + n)
    for k in range(2):
        low = float(150 * 2 ** random.uniform(0, 2))
        rate = float(random.uniform(0.4, 6.0)) * (1 if m == n else random.choice([-1, 1]))
        high = (m * low + rate) / n
        tone = together(low, high, 3.0, k)
        assert tone.beats is not None
        assert tone.beats.partials == partials
        assert abs(tone.beats.rate - abs(rate)) < 0.05
        assert abs(tone.beats.rate - abs(rate)) < 5 * tone.beats.uncertainty + 1e-3
        assert abs(cents(tone.hz, low)) < 0.5
        assert abs(cents(tone.upper_hz, high)) < 0.5


def test_a_second_is_enough_for_quick_beats() -> None:
    for low, high, rate in ((294.0, 590.5, 2.5), (440.0, 443.0, 3.0), (262.0, 396.0, 6.0)):
        tone = together(low, high, 1.0, 3)
        assert tone.beats is not None
        assert tone.beats.rate == pytest.approx(rate, abs=0.05)


@pytest.mark.parametrize("hz", [147.0, 523.0, 1_480.0])
def test_a_reed_alone_is_no_pair_whatever_a_player_does_with_it(hz: float) -> None:
    """Tremolo of the hand, vibrato, a fall in pitch, a note that dies away."""
    time = np.arange(round(2.6 * RATE)) / RATE
    for depth, swings, vibrato, drift, fading in (
        (0.5, 5.0, 0.0, 0.0, 0.0),
        (0.2, 2.0, 15.0, 6.0, 0.0),
        (0.0, 1.0, 0.0, 12.0, 10.0),
    ):
        sound = laid([(0.2, MadeReed(hz, 2.0, vibrato=vibrato, drift=drift))], 2.6, None)
        swell = 1 - depth / 2 + depth / 2 * np.cos(2 * np.pi * swings * time)
        sound = sound * swell * 10 ** (-fading * time / 2.6 / 20) + 0.005 * pink(len(sound), 4)
        (tone,) = heard(sound.astype(np.float32), RATE)
        assert tone.upper_hz == 0
        assert tone.beats is None


def test_a_unison_in_a_room_is_no_octave() -> None:
    both = [(0.2, MadeReed(260.3, 2.0)), (0.2, MadeReed(264.4, 2.0, level=0.09))]
    sound = in_a_room(laid(both, 2.6, None), RATE, 0.4, 3) + laid([], 2.6, 30.0, 4)
    (tone,) = heard(sound, RATE)
    assert tone.beats is not None
    assert tone.beats.partials == (1, 1)
    assert tone.beats.rate == pytest.approx(4.1, abs=0.05)


def test_an_octave_in_tune_has_no_beats_to_tell_it_by() -> None:
    """All partials of the upper lie on those of the lower: it is one reed, for all that sounds."""
    tone = together(262.0, 524.0, 2.0, 5)
    assert tone.beats is None or tone.beats.rate < 0.5
    assert abs(cents(tone.hz, 262.0)) < 0.5


def test_reeds_that_meet_nowhere_are_a_pair_without_beats() -> None:
    tone = together(300.0, 300.0 * 2 ** (6.5 / 12), 1.5, 6)
    assert tone.beats is None
    assert tone.upper_hz == pytest.approx(300.0 * 2 ** (6.5 / 12), rel=3e-4)


def test_which_partials_meet_follows_from_the_interval() -> None:
    """Textbook ratios of the intervals of equal temperament."""
    wanted = {0: (1, 1), 3: (6, 5), 4: (5, 4), 5: (4, 3), 7: (3, 2), 9: (5, 3), 12: (2, 1)}
    wanted |= {19: (3, 1), 24: (4, 1)}
    for semitones, partials in wanted.items():
        assert meeting(440.0, 440.0 * 2 ** (semitones / 12)) == partials
    assert meeting(440.0, 440.0 * 2 ** (6.5 / 12)) is None
