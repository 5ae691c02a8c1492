"""Chords of a breath: their roots, roles and pure ratios on any tuning."""

from fractions import Fraction
from math import log2

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Harp, Reed, Tuning
from reedwright.harp.naming import KEYS
from reedwright.harp.temperament import all_temperaments, cents
from reedwright.harp.tunings import SHIPPED_NAMES as SHIPPED_TUNINGS
from reedwright.workshop.targets.beats import chord_beats, pair_beats
from reedwright.workshop.targets.chords import (
    LIMITS,
    ROLES,
    _choices,
    breath_chord,
    chord_tuning,
)
from reedwright.workshop.targets.finding import SHIPPED_NAMES
from reedwright.workshop.targets.making import reed_targets, slide_in
from reedwright.workshop.targets.model import TargetWishes

BY_CHORD = ["chords-five", "chords-seven"]
BY_RULE = [*all_temperaments(), *SHIPPED_NAMES]
TUNINGS = [*SHIPPED_TUNINGS]


@st.composite
def any_harps(draw):
    """Harps of any reeds at all, as a user's tuning may have them."""
    holes = draw(st.integers(1, 12))
    rows = [
        tuple(draw(st.lists(st.integers(48, 96), min_size=holes, max_size=holes))) for _ in Breath
    ]
    return Harp(Tuning("any", "any", "", *rows), "C", draw(st.integers(-17, 18)))


# What players call these chords (common practice; the layouts give the notes).
@pytest.mark.parametrize(
    ("harp", "blow", "draw"),
    [
        (make_harp("C"), "C major", "G ninth"),
        (make_harp("Bb"), "Bb major", "F ninth"),
        (make_harp("G", "natural-minor"), "C minor", "G minor ninth"),
        (make_harp("C", "harmonic-minor"), "C minor", "G seventh"),
        (make_harp("C", "solo"), "C major", "D minor sixth"),
        (make_harp("C", "richter-raised-3-blow"), "C major sixth", "G ninth"),
    ],
)
def test_each_breath_makes_the_chord_that_players_know(harp, blow, draw):
    assert [breath_chord(harp, breath).title for breath in Breath] == [blow, draw]


def test_richter_draws_4_5_6_7_9_in_the_seven_limit():
    tuning = chord_tuning(make_harp("C"), Breath.DRAW, 7)
    above = {pc: tuning.ratios[pc] for pc in (7, 11, 2, 5, 9)}  # G B D F A
    assert [*above.values()] == [1, Fraction(5, 4), Fraction(3, 2), Fraction(7, 4), Fraction(9, 8)]


def test_natural_minor_draws_10_12_15_18_in_both_limits():
    for limit in LIMITS:
        tuning = chord_tuning(make_harp("G", "natural-minor"), Breath.DRAW, limit)
        ratios = [tuning.ratios[pc] for pc in (7, 10, 2, 5)]  # G Bb D F
        assert ratios == [1, Fraction(12, 10), Fraction(15, 10), Fraction(18, 10)]


def test_solo_draws_5_6_7_9_in_the_seven_limit():
    # The draw chord B D F A is the ninth chord on the fifth without its root.
    targets = reed_targets(make_harp("C", "solo"), TargetWishes("chords-seven"))
    hertz = [targets.of(Reed(hole, Breath.DRAW)).hz for hole in (4, 5, 6, 7)]
    assert [each / hertz[0] for each in hertz] == pytest.approx([1, 6 / 5, 7 / 5, 9 / 5])


def test_all_pairs_of_richter_are_pure_in_the_seven_limit():
    # 4:5:6:7:9, its octaves and 1:1 differences are all in the table of simple ratios.
    targets = reed_targets(make_harp("C"), TargetWishes("chords-seven"))
    loud = [pair for pair in pair_beats(targets) if not pair.pure]
    # A5-B5 is 9/8 x 10/9: ninth below third, 10:9; nothing beats.
    assert not loud


@pytest.mark.parametrize("tuning", TUNINGS)
@pytest.mark.parametrize("key", ["C", "G", "F#"])
def test_major_and_minor_chords_do_not_beat_in_the_five_limit(tuning, key):
    harp = make_harp(key, tuning)
    chords = [
        chord
        for each in ([harp, slide_in(harp)] if harp.tuning.slide else [harp])
        for chord in chord_beats(reed_targets(each, TargetWishes("chords-five")))
        if chord.name.endswith(("major", "minor"))
    ]
    assert chords
    for chord in chords:
        assert chord.fastest < 1e-6, chord


def test_the_same_note_differs_by_role():
    # Blown, A is the sixth of the raised 3 blow's chord (5/3); drawn, the ninth on G (27/16).
    targets = reed_targets(make_harp("C", "richter-raised-3-blow"), TargetWishes("chords-five"))
    blown, drawn = targets.of(Reed(3, Breath.BLOW)), targets.of(Reed(6, Breath.DRAW))
    assert (blown.midi - drawn.midi) % 12 == 0
    # 27/16 over 5/3 is 81/80, the comma of Didymus: 21.51 cents (Ellis, appendix XX).
    assert drawn.cents - blown.cents == pytest.approx(21.51, abs=0.005)
    assert blown.role == "sixth of the blow chord, 5/3"
    assert drawn.role == "ninth of the draw chord, 9/8"


@pytest.mark.parametrize("key", KEYS)
def test_draw_root_is_a_pure_fifth_above_home(key):
    for name in BY_CHORD:
        targets = reed_targets(make_harp(key), TargetWishes(name))
        home, root = targets.of(Reed(1, Breath.BLOW)), targets.of(Reed(2, Breath.DRAW))
        assert root.hz / home.hz == pytest.approx(3 / 2, rel=1e-12)


def test_draw_root_of_solo_is_two_pure_fifths_above_home():
    for name in BY_CHORD:
        targets = reed_targets(make_harp("C", "solo"), TargetWishes(name))
        home, root = targets.of(Reed(1, Breath.BLOW)), targets.of(Reed(1, Breath.DRAW))
        assert root.hz / home.hz == pytest.approx(9 / 8, rel=1e-12)


@given(any_harps(), st.sampled_from([*BY_CHORD, "chords-five-half", "just", "lowered-thirds"]))
@settings(max_examples=60, deadline=None)
def test_octaves_of_a_breath_are_pure_on_any_harp(harp, name):
    targets = reed_targets(harp, TargetWishes(name))
    for breath in Breath:
        reeds = [each for each in targets.reeds if each.reed.breath is breath]
        for one in reeds:
            for other in reeds:
                if (other.midi - one.midi) % 12 == 0:
                    octaves = (other.midi - one.midi) // 12
                    assert other.hz == pytest.approx(one.hz * 2.0**octaves, rel=1e-9)


@given(any_harps(), st.sampled_from(BY_CHORD), st.data())
@settings(max_examples=60, deadline=None)
def test_no_other_ratio_of_one_role_makes_the_pairs_simpler(harp, name, data):
    """Judged from the Hz of targets alone, with each note in turn set to each other ratio."""
    limit = 5 if name == "chords-five" else 7
    targets = reed_targets(harp, TargetWishes(name))
    breath = data.draw(st.sampled_from([*Breath]))
    row = [each for each in targets.reeds if each.reed.breath is breath]
    moved = data.draw(st.sampled_from(sorted({each.midi % 12 for each in row})))
    root = breath_chord(harp, breath).root
    if moved == root:
        return
    best = _harmonic_distance(row, {})
    tuned = chord_tuning(harp, breath, limit).ratios[moved]
    for ratio in _choices()[limit][ROLES[(moved - root) % 12]]:
        shift = {moved: float(ratio / tuned)}
        assert best <= _harmonic_distance(row, shift) + 1e-6


@pytest.mark.parametrize("limit", LIMITS)
def test_ratios_to_choose_from_keep_to_their_limit_and_their_note(limit):
    for semitones, role in enumerate(ROLES):
        for ratio in _choices()[limit][role]:
            left = ratio.numerator * ratio.denominator
            for prime in (2, 3, 5, 7):
                while prime <= limit and left % prime == 0:
                    left //= prime
            assert left == 1, ratio
            assert abs(cents(ratio) - 100 * semitones) < 50, ratio


def _harmonic_distance(row, shift):
    """The sum of log2(m n) over pairs within three holes, the ratios found again from Hz."""
    total = 0.0
    for place, one in enumerate(row):
        for other in row[place + 1 : place + 3]:
            low, high = (
                each.hz * shift.get(each.midi % 12, 1.0)
                for each in sorted((one, other), key=lambda each: each.midi)
            )
            if (other.midi - one.midi) % 12:
                ratio = Fraction(high / low).limit_denominator(20_000)
                total += log2(ratio.numerator * ratio.denominator)
    return total


@given(
    st.sampled_from(BY_RULE),
    st.sampled_from(TUNINGS),
    st.sampled_from(KEYS),
    st.sampled_from(["low", "ordinary", "high"]),
    st.sampled_from([0.0, 1.5, -2.0]),
)
@settings(max_examples=60, deadline=None)
def test_another_key_keeps_the_cents_and_roles(name, tuning, key, register, stretch):
    wishes = TargetWishes(name, stretch=stretch)
    here = reed_targets(make_harp("C", tuning), wishes)
    there = reed_targets(make_harp(key, tuning, register), wishes)
    for one, other in zip(here.reeds, there.reeds, strict=True):
        assert other.cents == pytest.approx(one.cents, abs=1e-9)
        assert (other.reed, other.role) == (one.reed, one.role)


def test_half_way_is_half_of_the_cents(tmp_path):
    half_seven = tmp_path / "half.toml"
    half_seven.write_text('title = "half"\nlimit = 7\nshare = 0.5')
    for harp in (make_harp("D", "natural-minor"), make_harp("C")):
        for name, half_name in (("chords-five", "chords-five-half"), ("chords-seven", half_seven)):
            pure = reed_targets(harp, TargetWishes(name)).reeds
            half = reed_targets(harp, TargetWishes(half_name)).reeds
            assert [each.cents for each in half] == pytest.approx([each.cents / 2 for each in pure])


@pytest.mark.parametrize("tuning", TUNINGS)
@pytest.mark.parametrize("name", ["chords-five-half", "lowered-thirds"])
def test_a_compromise_beats_no_more_than_equal_in_any_major_or_minor_chord(name, tuning):
    harp = make_harp("C", tuning)
    equal, set_ = (chord_beats(reed_targets(harp, TargetWishes(each))) for each in ("equal", name))
    pairs = [*zip(equal, set_, strict=True)]
    told = [pair for pair in pairs if pair[0].name.endswith(("major", "minor"))]
    assert told
    for before, after in told:
        assert after.fastest <= before.fastest + 1e-9, after


def test_slide_in_is_a_semitone_up_with_the_same_offsets():
    harp = make_harp("C", "slide-solo-12")
    wishes = TargetWishes("chords-five")
    out, pushed = (reed_targets(each, wishes).reeds for each in (harp, slide_in(harp)))
    assert [each.midi for each in pushed] == [
        harp.reed_midi(each.reed.hole, each.reed.breath, slide=True) for each in out
    ]
    for one, other in zip(out[:-1], pushed[:-1], strict=True):  # the last draw reed gives D7
        assert (other.midi, other.cents) == (one.midi + 1, pytest.approx(one.cents))
