"""Temperaments against the ratios of textbooks, in cents worked out here from frequencies."""

from math import log2

import pytest

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Reed
from reedwright.harp.naming import frequency
from reedwright.harp.temperament import (
    UnknownTemperament,
    all_temperaments,
    find_temperament,
    offset,
    reed_offsets,
)

# Cents of pure intervals as textbooks of acoustics print them (Helmholtz and Ellis, On the
# Sensations of Tone, appendix XX: 5/4 386.31, 3/2 701.96, 7/4 968.83, 4/3 498.04, 5/3 884.36,
# 9/8 203.91, 15/8 1088.27).
TEXTBOOK = {2: 203.91, 4: 386.31, 5: 498.04, 7: 701.96, 9: 884.36, 11: 1088.27}


def hertz(harp, temperament, hole, breath):
    """Of a reed set in this temperament."""
    off = reed_offsets(temperament, harp)[Reed(hole, breath)]
    return frequency(harp.reed_midi(hole, breath)) * 2 ** (off / 1200)


def test_just_scale_has_the_textbooks_intervals():
    just = find_temperament("just")
    for semitones, cents in TEXTBOOK.items():
        assert 100 * semitones + just.offsets[semitones] == pytest.approx(cents, abs=0.006)


def test_pure_seventh_of_the_draw_chord_is_968_cents():
    seven = find_temperament("just-seven")
    harp = make_harp("C")
    two, five = (hertz(harp, seven, hole, Breath.DRAW) for hole in (2, 5))
    assert 1200 * log2(five / two) == pytest.approx(968.83, abs=0.006)


@pytest.mark.parametrize("key", ["C", "G", "F#"])
def test_blow_chord_rings_as_4_5_6_8_in_every_key(key):
    harp = make_harp(key)
    first = hertz(harp, find_temperament("just"), 1, Breath.BLOW)
    ratios = [hertz(harp, find_temperament("just"), k, Breath.BLOW) / first for k in (1, 2, 3, 4)]
    assert ratios == pytest.approx([1, 5 / 4, 3 / 2, 2], rel=1e-9)


def test_draw_chord_rings_as_4_5_6_7_9_with_pure_sevenths():
    harp, seven = make_harp("A"), find_temperament("just-seven")
    second = hertz(harp, seven, 2, Breath.DRAW)
    ratios = [hertz(harp, seven, k, Breath.DRAW) / second for k in (2, 3, 4, 5, 6)]
    assert ratios == pytest.approx([1, 5 / 4, 6 / 4, 7 / 4, 9 / 4], rel=1e-9)


def test_equal_is_nothing_and_the_compromise_is_half_of_just():
    assert not any(find_temperament("equal").offsets)
    just, half = find_temperament("just"), find_temperament("compromise")
    assert half.offsets == pytest.approx([each / 2 for each in just.offsets])
    assert offset(find_temperament("equal"), 64, make_harp("C")) == 0.0


def test_tuning_named_by_another_position_counts_from_its_first_position():
    harp = make_harp("A", "natural-minor")
    assert offset(find_temperament("just"), harp.home_pitch_class + 60, harp) == 0.0


def test_unknown_name_is_told_with_those_there_are():
    with pytest.raises(UnknownTemperament, match="compromise"):
        find_temperament("compromize")
    assert next(iter(all_temperaments())) == "equal"
