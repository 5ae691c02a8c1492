"""A reed is set so that a pair beats as chosen; which pairs there are; how they are written."""

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Reed
from reedwright.harp.tunings import SHIPPED_NAMES as TUNINGS
from reedwright.workshop.targets.beating import (
    MOST_RATE,
    Side,
    beat_answers,
    target_for_beats,
)
from reedwright.workshop.targets.beats import (
    PairKind,
    beats_of,
    chord_beats,
    pair_beats,
    parse_pair,
)
from reedwright.workshop.targets.checking import TargetError
from reedwright.workshop.targets.intervals import interval_name, nearest_partials, pure_cents
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.targets.model import TargetWishes

KINDS = ("equal", "just", "chords-five", "chords-seven", "chords-five-half")
OCTAVE = (Reed(1, Breath.BLOW), Reed(4, Breath.BLOW))


@st.composite
def wished(draw):
    return TargetWishes(
        draw(st.sampled_from(KINDS)),
        draw(st.floats(438, 446)),
        draw(st.floats(0, 8)),
        draw(st.floats(-3, 3)),
    )


def harp_in(data):
    register = data.draw(st.sampled_from(["low", "ordinary", "high"]))
    key = data.draw(st.sampled_from(["G", "C", "F#"]))
    return make_harp(key, data.draw(st.sampled_from(TUNINGS)), register)


@given(wished(), st.data())
@settings(max_examples=80, deadline=None)
def test_the_chosen_rate_is_met_exactly(wishes, data):
    targets = reed_targets(harp_in(data), wishes)
    pair = data.draw(st.sampled_from(pair_beats(targets)))
    moved = data.draw(st.sampled_from([pair.lower, pair.upper]))
    rate = data.draw(st.floats(0, 2))
    side = data.draw(st.sampled_from([*Side]))
    after = target_for_beats(targets, (pair.lower, pair.upper), rate, moved, side, pair.partials)
    m, n = pair.partials
    low, high = after.of(pair.lower), after.of(pair.upper)
    assert abs(abs(m * low.hz - n * high.hz) - rate) < 1e-9
    # At the bench every reed is sharper by the same ratio, and so are the beats.
    ratio = 2 ** (wishes.pressure / 1200)
    assert abs(m * low.bench_hz - n * high.bench_hz) == pytest.approx(rate * ratio, abs=1e-8)
    changed = [b.reed for a, b in zip(targets.reeds, after.reeds, strict=True) if a.hz != b.hz]
    assert set(changed) <= {moved}
    # Cents and Hz say the same of the moved reed.
    it = after.of(moved)
    assert it.hz == pytest.approx(
        wishes.a4 * 2 ** ((it.midi - 69 + it.cents / 100) / 12), rel=1e-12
    )
    assert it.bench_cents == pytest.approx(it.cents + wishes.pressure, abs=1e-9)


@given(wished(), st.data())
@settings(max_examples=60, deadline=None)
def test_there_are_two_answers_and_the_nearer_is_the_nearer(wishes, data):
    targets = reed_targets(harp_in(data), wishes)
    pair = data.draw(st.sampled_from(pair_beats(targets)))
    both = (pair.lower, pair.upper)
    moved, rate = data.draw(st.sampled_from(both)), data.draw(st.floats(0.01, 2))
    flatter, sharper = beat_answers(targets, both, rate, moved)
    assert flatter.target.hz < sharper.target.hz
    assert {flatter.beats.rate > 0, sharper.beats.rate > 0} == {True, False}
    nearer = target_for_beats(targets, both, rate, moved).of(moved)
    now = targets.of(moved).hz
    if pair.pure:
        assume(abs(pair.rate) < 1e-9)
        assert nearer == sharper.target
    nearest = min(abs(each.target.hz - now) for each in (flatter, sharper))
    assert abs(nearer.hz - now) == pytest.approx(nearest, abs=1e-9)


def test_an_octave_half_a_beat_wide_is_worked_out_by_hand():
    # C4 is 261.6256; its second partial 523.2511; half a beat above: 523.7511 Hz, which is
    # 1200 log2(523.7511 / 523.2511) = 1.653 cents up.
    targets = reed_targets(make_harp("C"))
    answers = beat_answers(targets, OCTAVE, 0.5, OCTAVE[1])
    assert [each.target.hz for each in answers] == pytest.approx([522.7511, 523.7511], abs=1e-4)
    assert answers[1].moved == pytest.approx(1.653, abs=0.001)


def test_of_two_equally_near_the_sharper_is_taken():
    for key in ("C", "Db", "G"):
        targets = reed_targets(make_harp(key))
        after = target_for_beats(targets, OCTAVE, 0.5, OCTAVE[1]).of(OCTAVE[1])
        assert after.cents > 0


def test_moving_the_lower_reed_up_makes_the_pair_narrow():
    targets = reed_targets(make_harp("C"))
    flatter, sharper = beat_answers(targets, OCTAVE, 0.5, OCTAVE[0])
    assert (flatter.beats.rate, sharper.beats.rate) == pytest.approx((0.5, -0.5))


def test_other_partials_may_be_chosen():
    targets = reed_targets(make_harp("C"))
    after = target_for_beats(targets, OCTAVE, 0.5, OCTAVE[1], partials=(4, 2))
    assert beats_of(after, *OCTAVE).beats == pytest.approx(0.25)


@given(st.sampled_from(KINDS), st.sampled_from(TUNINGS), st.floats(-2, 2))
@settings(max_examples=40, deadline=None)
def test_an_octave_higher_everything_beats_twice_as_fast(name, tuning, stretch):
    wishes = TargetWishes(name, stretch=stretch)
    here, above = (
        pair_beats(reed_targets(make_harp("C", tuning, register), wishes))
        for register in ("ordinary", "high")
    )
    for one, other in zip(here, above, strict=True):
        assert other.rate == pytest.approx(2 * one.rate, abs=1e-8)
        assert (other.partials, other.kind) == (one.partials, one.kind)


def test_richter_has_the_octaves_that_players_tongue():
    # Common practice: blow octaves lie over four holes, draw 1 4 likewise, above it over five.
    octaves = [
        f"{pair.lower.breath.value} {pair.lower.hole} {pair.upper.hole}"
        for pair in pair_beats(reed_targets(make_harp("C")))
        if pair.kind is PairKind.OCTAVE
    ]
    blown = [f"blow {hole} {hole + 3}" for hole in range(1, 8)]
    assert octaves == [*blown, "draw 1 4", "draw 3 7", "draw 4 8", "draw 5 9", "draw 6 10"]


def test_chords_of_three_holes_are_named():
    names = {
        (chord.breath.value, chord.holes): chord.name
        for chord in chord_beats(reed_targets(make_harp("C")))
    }
    assert names["blow", (1, 2, 3)] == names["blow", (6, 7, 8)] == "C major"
    assert names["draw", (2, 3, 4)] == "G major"
    assert names["draw", (3, 4, 5)] == "B diminished"
    assert names["draw", (4, 5, 6)] == names["draw", (8, 9, 10)] == "D minor"


@pytest.mark.parametrize(
    ("cents", "partials"),
    [
        (0, (1, 1)),
        (-3, (1, 1)),
        (100, (16, 15)),
        (300, (6, 5)),
        (267, (7, 6)),
        (400, (5, 4)),
        (408, (5, 4)),
        (500, (4, 3)),
        (700, (3, 2)),
        (800, (8, 5)),
        (900, (5, 3)),
        (969, (7, 4)),
        (1000, (9, 5)),
        (1200, (2, 1)),
        (1205, (2, 1)),
        (1902, (3, 1)),
        (2400, (4, 1)),
        (6000, (16, 1)),
    ],
)
def test_intervals_are_judged_by_the_ratios_of_tuners(cents, partials):
    assert nearest_partials(cents) == partials


def test_a_seventh_turns_from_7_4_to_9_5_where_the_docs_say():
    # log2(28) + (c - 968.826) / 12.5 = log2(45) + (1017.596 - c) / 12.5 at c = 997.49.
    assert nearest_partials(997.4) == (7, 4)
    assert nearest_partials(997.6) == (9, 5)


@pytest.mark.parametrize(
    ("m", "n"),
    # Five-limit and seven-limit intervals of textbooks; cents by 1200 log2(m / n).
    [(16, 9), (9, 8), (10, 9), (15, 8), (16, 15), (27, 25), (21, 20), (25, 24), (28, 27), (14, 9)],
)
def test_a_pure_ratio_that_is_met_is_what_a_pair_is_judged_by(m, n):
    for off in (0, -0.9, 0.9):
        assert nearest_partials(pure_cents((m, n)) + off) == (m, n)


@pytest.mark.parametrize(
    ("wolf", "simple"),
    [((32, 27), (6, 5)), ((40, 27), (3, 2)), ((27, 20), (4, 3)), ((27, 16), (5, 3))],
)
def test_a_comma_from_a_simple_interval_beats_against_that(wolf, simple):
    # A fifth of 40/27 is the wolf of textbooks: it is heard as a fifth that beats.
    assert nearest_partials(pure_cents(wolf)) == simple


def test_two_pure_fourths_of_the_just_scale_do_not_beat():
    # G 3/2 and F 4/3 above C: 8/3 to 3/2 is 16/9.
    targets = reed_targets(make_harp("C"), TargetWishes("just"))
    pair = beats_of(targets, Reed(2, Breath.DRAW), Reed(5, Breath.DRAW))
    assert (pair.partials, pair.pure) == ((16, 9), True)


def test_every_pure_ratio_up_to_nine_is_nearest_to_itself():
    for m in range(1, 10):
        for n in range(1, m + 1):
            found = nearest_partials(pure_cents((m, n)))
            assert found[0] * n == found[1] * m


@pytest.mark.parametrize(
    "text", ["blow 1 4", "1 4 blow", "Blow 1-4", "blow 1,4", " blow 1 and 4 ", "blow 1+4"]
)
def test_a_pair_is_read_as_players_write_it(text):
    assert parse_pair(text, make_harp("C")) == OCTAVE


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "not understood"),
        ("blow", "a breath and two holes"),
        ("blow 1", "a breath and two holes"),
        ("1 4", "a breath and two holes"),
        ("blow 1 2 3", "a breath and two holes"),
        ("blow 1 draw 4", "do not sound together"),
        ("blow 1 11", "there is no hole 11"),
        ("blow 0 4", "there is no hole 0"),
        ("draw 3 3", "one hole twice"),
        ("suck 1 4", "not understood"),
        ("blow 1 ²", "not understood"),
    ],
)
def test_a_pair_that_cannot_be_is_told(text, told):
    with pytest.raises(TargetError, match=told):
        parse_pair(text, make_harp("C"))


@given(st.text(max_size=20))
@settings(max_examples=60, deadline=None)
def test_any_text_gives_a_pair_or_a_telling(text):
    try:
        one, other = parse_pair(text, make_harp("C"))
    except TargetError:
        return
    assert one.breath is other.breath
    assert one.hole != other.hole


@pytest.mark.parametrize(
    ("pair", "rate", "moved", "told"),
    [
        (OCTAVE, -0.5, OCTAVE[1], "a rate of -0.5"),
        (OCTAVE, float("nan"), OCTAVE[1], "a rate of nan"),
        (OCTAVE, MOST_RATE + 1, OCTAVE[1], "a rate of 21"),
        (OCTAVE, 0.5, Reed(2, Breath.BLOW), "2 blow is none of the pair; move 1 blow or 4 blow"),
        ((OCTAVE[0], Reed(4, Breath.DRAW)), 0.5, OCTAVE[0], "do not sound together"),
        ((OCTAVE[0], OCTAVE[0]), 0.5, OCTAVE[0], "one reed does not beat"),
        ((OCTAVE[0], Reed(11, Breath.BLOW)), 0.5, OCTAVE[0], "no hole 11"),
    ],
)
def test_beats_that_cannot_be_are_told(pair, rate, moved, told):
    with pytest.raises(TargetError, match=told):
        target_for_beats(reed_targets(make_harp("C")), pair, rate, moved)


def test_a_reed_is_not_sent_to_another_note():
    targets = reed_targets(make_harp("C"))
    with pytest.raises(TargetError, match="cents from its note"):
        target_for_beats(targets, OCTAVE, 0.5, OCTAVE[1], partials=(3, 2))
    with pytest.raises(TargetError, match="not heard in a reed"):
        target_for_beats(targets, OCTAVE, 0.5, OCTAVE[1], partials=(0, 1))
    with pytest.raises(TargetError, match="nearer, sharper, flatter"):
        target_for_beats(targets, OCTAVE, 0.5, OCTAVE[1], "higher")


def test_wide_intervals_are_named_by_what_they_are_within_the_octave():
    assert interval_name(19) == "fifth and an octave"
    assert interval_name(24) == "2 octaves"
    assert interval_name(28) == "major third and 2 octaves"


def test_two_reeds_that_nobody_sounds_together_can_be_asked_for_all_the_same():
    # Draw 2 and 5, G4 and F5: 1000 cents, nearest 9:5; 5 x 698.456 - 9 x 391.995 = -35.68.
    pair = beats_of(reed_targets(make_harp("C")), Reed(2, Breath.DRAW), Reed(5, Breath.DRAW))
    assert pair.kind is PairKind.CHOSEN
    assert (pair.partials, pair.rate) == ((9, 5), pytest.approx(-35.68, abs=0.01))
