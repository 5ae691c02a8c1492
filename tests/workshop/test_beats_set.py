"""Pairs that are set to beat as wished go with the targets into every paper."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reedwright.cli.main import main
from reedwright.harp.making import parse_harp
from reedwright.harp.model import Breath, Harp, Reed, Tuning
from reedwright.workshop.targets.beating import Side, beat_answers, target_for_beats
from reedwright.workshop.targets.beats import PairKind, beats_of, pair_beats
from reedwright.workshop.targets.checking import TargetError
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.targets.model import BeatWish, TargetWishes, Width
from reedwright.workshop.targets.report import beats_report, targets_report
from reedwright.workshop.targets.setting import beat_wish_words, parse_beat_wish
from reedwright.workshop.targets.text import answers_text, targets_text

ONE, FOUR, SEVEN = (Reed(hole, Breath.BLOW) for hole in (1, 4, 7))


def wished(*texts, harp="C", **more):
    beats = tuple(parse_beat_wish(text) for text in texts)
    return reed_targets(parse_harp(harp), TargetWishes(beats=beats, **more))


def test_an_octave_set_half_a_beat_wide_is_worked_out_by_hand():
    # C4 is 261.6256 Hz: 2 x 261.6256 + 0.5 = 523.7511, or - 0.5 = 522.7511.
    assert wished("blow 1 4=0.5").of(FOUR).hz == pytest.approx(523.7511, abs=1e-4)
    assert wished("blow 1 4=-0.5").of(FOUR).hz == pytest.approx(522.7511, abs=1e-4)
    # The reed that is named last is set: (523.2511 - 0.5) / 2 = 261.3756 is wide.
    low = wished("blow 4 1=+0.5")
    assert low.of(ONE).hz == pytest.approx(261.3756, abs=1e-4)
    assert low.of(FOUR).hz == pytest.approx(523.2511, abs=1e-4)
    assert beats_of(low, ONE, FOUR).rate == pytest.approx(0.5)


@given(
    st.sampled_from(("equal", "just", "chords-five", "chords-seven")),
    st.sampled_from(("C", "low F", "high G", "Bb:natural-minor", "A:solo")),
    st.floats(0, 2),
    st.sampled_from(Width),
    st.booleans(),
    st.data(),
)
@settings(max_examples=60, deadline=None)
def test_a_wish_is_met_as_the_pair_sounds_and_moves_one_reed(
    temperament, text, rate, width, upper, data
):
    harp = parse_harp(text)
    plain = reed_targets(harp, TargetWishes(temperament, 442, 4, 1))
    pair = data.draw(st.sampled_from(pair_beats(plain)))
    fixed, moved = (pair.lower, pair.upper) if upper else (pair.upper, pair.lower)
    wish = BeatWish(fixed, moved, rate, width)
    after = reed_targets(harp, TargetWishes(temperament, 442, 4, 1, (wish,)))
    m, n = pair.partials
    found = n * after.of(pair.upper).hz - m * after.of(pair.lower).hz
    assert abs(found) == pytest.approx(rate, abs=1e-8)
    if width is not Width.NEARER:
        assert found * (1 if width is Width.WIDE else -1) >= -1e-8
    changed = {b.reed for a, b in zip(plain.reeds, after.reeds, strict=True) if a != b}
    assert changed == {moved}
    assert after.of(moved).role.endswith(", set")


def test_wishes_are_met_one_after_another():
    # 4 blow first, then 7 blow against 4 blow as it is then: 2 x 523.7511 + 0.5 = 1048.0023.
    found = wished("blow 1 4=+0.5", "blow 4 7=+0.5")
    assert found.of(SEVEN).hz == pytest.approx(2 * 523.7511 + 0.5, abs=2e-4)


def test_a_wish_that_a_later_one_undoes_is_told():
    with pytest.raises(TargetError, match=r"'blow 1 4: 0.5 beats a second' is undone.*0\.25"):
        wished("blow 1 4=0.5", "blow 7 4=0.5")
    wished("blow 7 4=0.5", "blow 4 1=0.5")  # in this order both can be kept


def test_a_wish_that_the_harp_cannot_have_is_told():
    with pytest.raises(TargetError, match="no hole 12"):
        wished("blow 1 12=0.5")
    with pytest.raises(TargetError, match="cents from its note"):
        wished("blow 1 4=-20", harp="low F")  # the flatter one, see below


@pytest.mark.parametrize(
    ("text", "rate", "width"),
    [
        ("blow 1 4=0.5", 0.5, Width.NEARER),
        ("blow 1 4 = +0,5", 0.5, Width.WIDE),
        ("1-4 blow=-2", 2, Width.NARROW),
        ("blow 1 4=\N{MINUS SIGN}2", 2, Width.NARROW),
        ("blow 1 and 4=-0", 0, Width.NEARER),
    ],
)
def test_a_wish_is_read_as_players_write_it(text, rate, width):
    assert parse_beat_wish(text) == BeatWish(ONE, FOUR, rate, width)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("blow 1 4", "does not say how fast"),
        ("blow 1 4=fast", "'fast' is no number"),
        ("blow 1 4=", "is no number"),
        ("blow 1 4=nan", "give 0"),
        ("blow 1 4=21", "0 .pure. to 20"),
        ("blow 1=1", "a breath and two holes"),
        ("blow 4 4=1", "one hole twice"),
        ("=1", "not understood"),
    ],
)
def test_a_wish_that_cannot_be_read_is_told(text, told):
    with pytest.raises(TargetError, match=told):
        parse_beat_wish(text)


@given(st.text(max_size=20) | st.from_regex(r"blow \d{1,2} \d=[-+]?.{0,4}", fullmatch=True))
@settings(max_examples=80, deadline=None)
def test_any_text_is_a_wish_or_told(text):
    try:
        wish = parse_beat_wish(text)
    except TargetError:
        return
    assert 0 <= wish.rate <= 20


def test_what_is_set_is_told_in_text_and_json():
    found = wished("blow 1 4=+0.5", "draw 1 4=0")
    said = " ".join(targets_text(found).split())
    assert "Set to beat as chosen: blow 1 4: 0.5 beats a second, wide; draw 1 4: pure." in said
    assert "4 blow C5 +1.7 523.75 root, set" in said
    for report in (targets_report(found), beats_report(found)):
        assert report["set_beats"][0] == {
            "breath": "blow",
            "fixed": 1,
            "set": 4,
            "beats": 0.5,
            "width": "wide",
        }
    assert beat_wish_words(found.wishes.beats[1]) == "draw 1 4: pure"
    assert targets_report(wished())["set_beats"] == []


def test_the_command_line_takes_several_and_hands_them_on(capsys):
    asked = ["C", "--set", "blow 1 4=0.5", "--set", "draw 1 4=-1"]
    assert main(["bench", "beats", *asked, "--json"]) == 0
    pairs = json.loads(capsys.readouterr().out)["pairs"]
    rates = {
        (each["lower"]["breath"], each["lower"]["hole"], each["upper"]["hole"]): each["rate"]
        for each in pairs
    }
    assert (rates["blow", 1, 4], rates["draw", 1, 4]) == (0.5, -1)


def test_which_reed_moves_is_not_asked_without_a_rate(capsys):
    for asked in (["--move", "blow 4"], ["--pair", "blow 1 4", "--move", "blow 4"]):
        assert main(["bench", "beats", "C", *asked]) != 0
        assert "--move says which reed is set" in capsys.readouterr().err


def test_where_one_answer_is_another_note_the_other_is_given():
    # Low F, blow 1 and 4: F3 174.614 and F4 349.228 Hz. 20 beats narrow are 329.228, which is
    # 1200 log2(329.228 / 349.228) = -102.1 cents; 20 wide are 369.228, +96.4 cents.
    flat = reed_targets(parse_harp("low F"))
    low, high = ONE, FOUR
    (only,) = beat_answers(flat, (low, high), 20, high)
    assert only.moved == pytest.approx(96.4, abs=0.05)
    assert "left out" in answers_text(flat, (only,))
    assert target_for_beats(flat, (low, high), 20, high).of(high) == only.target
    assert target_for_beats(flat, (low, high), 20, high, Side.SHARPER).of(high) == only.target
    with pytest.raises(TargetError, match="102 cents from its note"):
        target_for_beats(flat, (low, high), 20, high, Side.FLATTER)
    assert len(beat_answers(flat, (low, high), 0.5, high)) == 2


@pytest.mark.parametrize(("reach", "tongued"), [(3, True), (4, True), (5, False), (6, False)])
def test_octaves_are_tongued_over_four_or_five_holes_and_no_more(reach, tongued):
    # Common practice: the tongue covers the two or three holes between.
    row = [60, 61, 62, 63, 64, 65, 66, 67]
    row[reach] = 72
    harp = Harp(Tuning("made", "made", "", tuple(row), tuple(row)), "C", 0)
    octaves = [p for p in pair_beats(reed_targets(harp)) if p.kind is PairKind.OCTAVE]
    assert len(octaves) == (2 if tongued else 0)


def test_a_semitone_of_27_25_can_be_set_too():
    # Draw 6 and 7 of a lowered 7 draw, just: A 5/3 and Bb 9/5 above C; 9/5 to 5/3 is 27/25.
    pair = Reed(6, Breath.DRAW), Reed(7, Breath.DRAW)
    found = wished("draw 6 7=+0.5", harp="low G:richter-lowered-7-draw", temperament="just")
    assert beats_of(found, *pair, partials=(27, 25)).rate == pytest.approx(0.5)
    assert beats_of(found, *pair).partials == (27, 25)
