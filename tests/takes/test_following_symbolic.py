"""Following, apart from sound: what players do, given as notes."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from imagined_hearing import heard_of
from played_badly import Deed, Performance, perform
from soundfont_takes import Played, sampled_tunes

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.sound.hearing.model import Heard
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.takes.following.follow import follow
from reedwright.takes.model import Following, PassageKind
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.unfold import unfold

REEL = """X:1
T:Made for Following
R:reel
M:C|
L:1/8
K:G
D2|:G2BG DGBd|g2fg edBd|c2ec BcdB|A2BA GEDE|
G2BG DGBd|gage dBGB|cedc BAGF|1 AGFA G2D2:|2 AGFA G2Bc||
|:d2gd Bdgb|agfa gedB|c2ec BdcB|AGAB A2Bc|
dBgB dgbg|agfd edBG|cBAG FAdc|1 BGAF G2Bc:|2 BGAF G4|]
"""


def arranged(abc: str) -> Arrangement:
    (tune,) = read_abc(abc)
    assert isinstance(tune, Tune)
    return arrange(tune, make_harp("G"), load_profile("player"))


@pytest.fixture(scope="module")
def reel() -> Arrangement:
    return arranged(REEL)


def errors(played: Performance, following: Following) -> np.ndarray:
    by = {(note.id, note.time): note for note in following.notes}
    return np.array(
        [
            abs(by[true.id, true.time].start - true.start) if (true.id, true.time) in by else 9.0
            for true in played.written
            if true.deed is not Deed.MISSED
        ]
    )


def bars_in_order(played: Performance, following: Following) -> bool:
    return [bar.index for bar in following.bars] == [bar.index for bar in played.bars]


def kinds(following: Following) -> list[PassageKind]:
    return [passage.kind for passage in following.passages]


def check_consistent(following: Following) -> None:
    """What whoever uses a following relies on."""
    passages = following.passages
    assert passages[0].start == 0.0
    assert passages[-1].end == pytest.approx(following.heard.duration)
    for one, two in pairwise(passages):
        assert one.end == two.start
        assert one.end > one.start
    assert [bar.first for bar in following.bars[1:]] == [bar.last for bar in following.bars[:-1]]
    if following.bars:
        assert following.bars[0].first == 0
        assert following.bars[-1].last == len(following.notes)
    onset = Fraction(0)
    for bar in following.bars:
        assert bar.onset == onset
        onset += bar.length
        assert bar.end >= bar.start
        for note in following.notes[bar.first : bar.last]:
            assert note.bar == bar.index
            assert note.round == bar.round
            assert bar.onset <= note.onset <= bar.onset + bar.length
    for one, two in pairwise(following.notes):
        assert two.start >= one.start - 1e-9 or two.is_grace
    assert all(note.end >= note.start for note in following.notes)
    seen = {(note.id, note.time) for note in following.notes}
    assert len(seen) == len(following.notes)
    used = {k for note in following.notes for k in note.heard}
    assert used.isdisjoint(following.extra)
    tune = [p for p in passages if p.kind is PassageKind.TUNE]
    for k in following.extra:
        assert any(p.start <= following.heard.notes[k].start <= p.end for p in tune)


def test_the_demo_reel_as_written_is_followed_note_by_note(reel: Arrangement) -> None:
    played = perform(reel)
    following = follow(reel, heard_of(played.notes, jitter=0.0))
    assert errors(played, following).max() < 1e-6
    assert bars_in_order(played, following)
    parts = dict.fromkeys((bar.part, bar.part_time) for bar in following.bars)
    assert list(parts) == [("A", 1), ("A", 2), ("B", 1), ("B", 2)]
    assert following.skipped == ()
    assert following.sureness == 1.0
    check_consistent(following)


@pytest.mark.parametrize(
    ("event", "words"),
    [
        ({"skip_repeats": (0,)}, "the repeat of part A was left out"),
        ({"skip_repeats": (3,)}, "the repeat of part B was left out"),
        ({"skip_repeats": (2, 3)}, "part B was left out"),
        ({"first_part": 2}, "part A was left out"),
        ({"again": (1,)}, "part A was played once more than written"),
    ],
)
def test_parts_left_out_and_played_again_are_said(
    reel: Arrangement, event: dict, words: str
) -> None:
    played = perform(reel, drift=0.15, rubato=0.03, **event)
    following = follow(reel, heard_of(played.notes))
    assert following.skipped == (words,)
    assert bars_in_order(played, following)
    assert np.median(errors(played, following)) < 0.02
    check_consistent(following)


def test_three_rounds_are_told_apart_and_a_repeat_left_out_in_the_first(reel: Arrangement) -> None:
    played = perform(reel, rounds=3, skip_repeats=(1,), drift=0.15)
    following = follow(reel, heard_of(played.notes))
    assert following.skipped == ("the repeat of part A was left out, first time round",)
    assert [bar.round for bar in following.bars] == [bar.round for bar in played.bars]
    check_consistent(following)


@pytest.mark.parametrize("notes", [5, 9, 30])
def test_a_false_start_is_told_from_the_tune(reel: Arrangement, notes: int) -> None:
    played = perform(reel, false_start=notes, drift=0.15, noodling=(3.0, 3.0))
    following = follow(reel, heard_of(played.notes))
    assert kinds(following).count(PassageKind.FALSE_START) == 1
    assert bars_in_order(played, following)
    assert np.quantile(errors(played, following), 0.95) < 0.05
    first = next(p for p in following.passages if p.kind is PassageKind.FALSE_START)
    false = [true for true in played.truth if true.deed is Deed.FALSE_START]
    assert first.start == pytest.approx(false[0].start, abs=0.3)
    assert first.end == pytest.approx(false[-1].end, abs=0.3)
    check_consistent(following)


@pytest.mark.parametrize(("bar", "back"), [(4, 2), (12, 3), (25, 1)])
def test_breaking_off_in_the_middle_and_going_back_is_a_false_start(
    reel: Arrangement, bar: int, back: int
) -> None:
    played = perform(reel, breaks=((bar, back),))
    following = follow(reel, heard_of(played.notes))
    assert kinds(following).count(PassageKind.FALSE_START) == 1
    assert bars_in_order(played, following)
    assert errors(played, following).max() < 0.05
    check_consistent(following)


def test_planted_mistakes_are_found_where_they_are(reel: Arrangement) -> None:
    played = perform(reel, wrong=(20, 71), missed=(40, 90), added=(55, 101), flat=(30,), seed=3)
    following = follow(reel, heard_of(played.notes))
    by = {(note.id, note.time): note for note in following.notes}
    for true in played.written:
        note = by[true.id, true.time]
        assert note.was_heard is (true.deed is not Deed.MISSED), true
        assert note.start == pytest.approx(true.start, abs=0.05)
    assert len(following.extra) == 2
    added = [true.start for true in played.truth if true.deed is Deed.ADDED]
    starts = [following.heard.notes[k].start for k in following.extra]
    assert starts == pytest.approx(added, abs=0.02)
    check_consistent(following)


def test_a_repeated_note_heard_as_one_is_found_by_its_new_attack() -> None:
    arrangement = arranged("X:1\nM:4/4\nL:1/4\nQ:1/4=100\nK:G\nGABc|dddd|cBAG|BBAG|GABG|]\n")
    played = perform(arrangement)
    heard = heard_of(played.notes, jitter=0.0)
    notes = list(heard.notes)
    together = [k for k, note in enumerate(notes) if round(note.midi) == 74]
    merged = replace(notes[together[0]], end=notes[together[1]].end)
    notes[together[0] : together[1] + 1] = [merged]
    following = follow(arrangement, replace(heard, notes=tuple(notes)))
    second = following.notes[5]
    assert second.heard == following.notes[4].heard
    assert second.start == pytest.approx(played.written[5].start, abs=0.01)
    assert following.notes[4].end == second.start


def test_a_note_broken_in_two_is_played_by_both_pieces(reel: Arrangement) -> None:
    played = perform(reel)
    heard = heard_of(played.notes, jitter=0.0)
    notes = list(heard.notes)
    whole = notes[60]
    middle = (whole.start + whole.end) / 2
    notes[60:61] = [replace(whole, end=middle), replace(whole, start=middle, attack=0.1)]
    following = follow(reel, replace(heard, notes=tuple(notes)))
    assert (60, 61) in {note.heard for note in following.notes}
    assert following.extra == ()


def test_cuts_that_are_not_played_are_missed_and_nothing_else_is() -> None:
    abc = REEL.replace("c2ec", "{e}c2ec")
    arrangement = arranged(abc)
    following = follow(arrangement, heard_of(perform(arrangement, graces=False).notes))
    assert any(note.is_grace for note in following.notes)
    assert all(note.was_heard is not note.is_grace for note in following.notes)
    following = follow(arrangement, heard_of(perform(arrangement).notes))
    assert all(note.was_heard for note in following.notes)


@pytest.mark.parametrize("semitones", [-12, -5, 3, 7, 12])
def test_another_key_of_harp_is_found_and_changes_nothing_else(
    reel: Arrangement, semitones: int
) -> None:
    as_written = follow(reel, heard_of(perform(reel, drift=0.1).notes))
    moved = follow(reel, heard_of(perform(reel, drift=0.1, semitones=semitones).notes, cents=22))
    assert moved.semitones == semitones
    assert [n.start for n in moved.notes] == [n.start for n in as_written.notes]
    assert [n.midi - semitones for n in moved.notes] == [n.midi for n in as_written.notes]


def test_a_take_half_a_semitone_flat_is_followed_whatever_its_a_was_said_to_be(
    reel: Arrangement,
) -> None:
    played = perform(reel)
    heard = replace(heard_of(played.notes, cents=-45), a4=440.0)
    following = follow(reel, heard)
    assert following.semitones == 0
    assert all(note.was_heard for note in following.notes)


@settings(deadline=None, max_examples=12)
@given(
    st.lists(
        st.tuples(st.integers(0, 11), st.sampled_from(["", "2", "3", "/2"])),
        min_size=24,
        max_size=60,
    ),
    st.integers(-12, 12),
    st.floats(0.5, 1.6),
)
def test_any_tune_played_as_written_is_followed_to_the_note(
    notes: list[tuple[int, str]], semitones: int, speed: float
) -> None:
    steps = "DEFGABcdefga"
    body = "".join(
        steps[step] + length + ("|" if k % 8 == 7 else "") for k, (step, length) in enumerate(notes)
    )
    arrangement = arranged(f"X:1\nT:Any\nM:none\nL:1/8\nQ:1/4=100\nK:G\n{body}|]\n")
    played = perform(arrangement, semitones=semitones, speed=speed)
    following = follow(arrangement, heard_of(played.notes, jitter=0.0))
    check_consistent(following)
    if len({step for step, _ in notes}) < 6:
        return  # a tune of few notes stands in other places too
    assert following.semitones == semitones
    assert errors(played, following).max() < 1e-6


def test_nothing_heard_and_nothing_written_are_followed_without_complaint(
    reel: Arrangement,
) -> None:
    silence = heard_of([], tail=3.0)
    following = follow(reel, silence)
    assert (following.notes, following.bars, following.sureness) == ((), (), 0.0)
    assert kinds(following) == [PassageKind.SILENCE]
    empty = replace(reel, tune=replace(reel.tune, voices=()))
    following = follow(empty, heard_of(perform(reel).notes))
    assert following.notes == ()
    check_consistent(following)
    single = follow(reel, heard_of([Played(0.5, 0.9, 67.0)]))
    assert single.sureness < 0.3


@pytest.mark.no_cover
def test_another_tune_gives_a_low_sureness_and_this_one_a_high_one() -> None:
    harp, player = make_harp("G"), load_profile("player")
    every = [arrange(tune, harp, player) for tune in sampled_tunes(8, seed=5)]
    for k, arrangement in enumerate(every):
        heard = heard_of(perform(arrangement, drift=0.1, seed=k).notes, unheard=0.03, seed=k)
        assert follow(arrangement, heard).sureness > 0.8
        other = follow(every[k - 1], heard)
        assert other.sureness < 0.3
        check_consistent(other)


def test_a_tune_within_a_long_recording_of_others_is_found() -> None:
    harp, player = make_harp("G"), load_profile("player")
    every = [arrange(tune, harp, player) for tune in sampled_tunes(6, seed=5)]
    notes: list[Played] = []
    starts, now = [], 0.0
    for k, arrangement in enumerate(every):
        starts.append(now)
        played = perform(arrangement, seed=k)
        notes += [n._replace(start=n.start + now, end=n.end + now) for n in played.notes]
        now = notes[-1].end + 4.0
    following = follow(every[3], heard_of(notes))
    tune = [p for p in following.passages if p.kind is PassageKind.TUNE]
    assert len(tune) == 1
    assert starts[3] <= tune[0].start < tune[0].end <= starts[4]
    assert following.sureness > 0.8


def test_talk_without_notes_is_told_from_silence(reel: Arrangement) -> None:
    played = perform(reel)
    later = [n._replace(start=n.start + 6, end=n.end + 6) for n in played.notes]
    heard = heard_of(later)
    level = heard.track.level.copy()
    level[: int(4 / heard.track.hop)] = -20.0
    talking: Heard = replace(heard, track=replace(heard.track, level=level))
    assert follow(reel, talking).passages[0].kind is PassageKind.OTHER
    assert follow(reel, heard).passages[0].kind is PassageKind.SILENCE


def test_time_tells_which_of_like_notes_were_missed() -> None:
    arrangement = arranged(
        "X:1\nM:4/4\nL:1/8\nQ:1/4=100\nK:G\nGABc dcBG|ABAB ABAB|ABAB ABAB|cBAG GABG|]\n"
    )
    played = perform(arrangement, missed=(12, 13), rubato=0.02)
    following = follow(arrangement, heard_of(played.notes))
    assert [k for k, note in enumerate(following.notes) if not note.was_heard] == [12, 13]


def test_ties_over_bar_lines_are_one_note_and_their_bars_are_there() -> None:
    arrangement = arranged("X:1\nM:4/4\nL:1/4\nK:G\nGABc|dBGA|BcdB-|BAGA|B2c2|d4-|d4|]\n")
    played = perform(arrangement)
    following = follow(arrangement, heard_of(played.notes))
    check_consistent(following)
    assert bars_in_order(played, following)
    assert (following.notes[11].length, following.notes[-1].length) == (2, 8)


def test_a_note_struck_once_and_held_by_a_tie_the_next_time_is_no_jump() -> None:
    """The tie before the repeat holds the first note on: the second time nothing begins there."""
    arrangement = arranged("X:1\nM:4/4\nL:1/8\nK:G\n|:A4 G2B2|d2B2 G2B2|c2A2 F2A2|B4 A4-:|A4 G4|\n")
    played = perform(arrangement)
    following = follow(arrangement, heard_of(played.notes))
    assert bars_in_order(played, following)
    first, again = [note for note in following.notes if note.id == following.notes[0].id]
    assert first.was_heard and not again.was_heard
    assert all(note.was_heard for note in following.notes if note is not again)
    assert not following.skipped


def test_rounds_beyond_eight_are_said_with_a_right_number() -> None:
    arrangement = arranged("X:1\nM:2/4\nL:1/8\nK:G\n|:GABc|d2G2:|\n|:g2fe|d2B2:|\n")
    once = [(n.note.pitch.midi, 0.4 * float(n.note.length)) for n in unfold(arrangement.tune).notes]
    sound: list[Played] = []
    for midi, seconds in once * 21 + once[:-5] + once:
        start = sound[-1].end + 0.02 if sound else 1.0
        sound.append(Played(start, start + seconds - 0.02, midi))
    following = follow(arrangement, heard_of(sound))
    assert following.skipped == ("the repeat of part B was left out, number 22 time round",)
