"""What a report finds in takes whose faults are known, heard and followed without fault."""

import json
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from imagined_hearing import heard_of
from known_following import followed
from played_badly import Deed, perform
from report_takes import AIR, JIG, REEL, TUNES, bends, demo, report_on, taken
from soundfont_takes import Played

from reedwright.harp.making import make_harp
from reedwright.harp.model import Reed, Technique
from reedwright.harp.temperament import find_temperament, offset
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.takes.following.follow import follow
from reedwright.takes.report.judging import judge
from reedwright.takes.report.model import BarVerdict, BendVerdict, Verdict
from reedwright.takes.report.useful import most_useful, went_well
from reedwright.takes.report.words import report_text
from reedwright.takes.report.written import report_json
from reedwright.tune.abc import read_abc
from reedwright.tune.reading import read_tunes
from reedwright.tune.unfold import unfold
from reedwright.workshop.targets.finding import find_reed_temperament
from reedwright.workshop.targets.temperaments import reed_cents


def faults(report):
    return {
        (note.id, note.time): note.verdict
        for note in report.notes
        if note.verdict is not Verdict.PLAYED
    }


@pytest.mark.parametrize("number", [REEL, JIG])
def test_clean_take_has_no_fault_and_nothing_to_work_on(number):
    report = report_on(demo(number, "G" if number == REEL else "D"))
    assert report.fits and not faults(report) and not report.added
    assert not [bar for bar in report.bars if bar.verdict is not BarVerdict.STEADY]
    assert not report.most_useful
    assert "Nothing needs work" in report_text(report)
    assert any(sentence.startswith("All") for sentence in report.went_well)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_wrong_and_missed_notes_are_found_where_they_were_and_nowhere_else(seed):
    arrangement = demo()
    played = perform(arrangement, wrong=[7, 40, 111], missed=[20, 60, 130], seed=seed)
    planted = {
        (truth.id, truth.time): Verdict.WRONG if truth.deed is Deed.WRONG else Verdict.MISSED
        for truth in played.written
        if truth.deed in (Deed.WRONG, Deed.MISSED)
    }
    report = judge(taken(arrangement, played))
    assert len(planted) == 6 and faults(report) == planted
    wrong = {(n.id, n.time): n.heard_midi for n in report.notes if n.verdict is Verdict.WRONG}
    assert wrong == {(t.id, t.time): t.midi for t in played.written if t.deed is Deed.WRONG}


def test_wrong_note_is_explained_by_hole_and_breath():
    """On a G harp D4 is 3 blow and E4, a tone higher, 3 draw bent; B4 5 blow, C#5 no plain note."""
    arrangement = demo()
    notes = perform(arrangement).written
    k = next(
        k
        for k, truth in enumerate(notes)
        if truth.midi == 71 and arrangement.soundings[truth.id].hole == 5
    )
    report = report_on(arrangement, wrong=[k], wrong_by=1)  # B4 -> C5, 5 draw
    text = " ".join(report_text(report).split())
    assert "C5 instead of B4; you were probably on hole 5 draw instead of hole 5 blow" in text
    assert "the other breath" in text


@pytest.mark.parametrize(("cents", "verdict"), [(-40, "flat"), (40, "sharp"), (8, "reached")])
def test_bends_that_miss_by_40_cents_are_told_and_by_8_are_not(cents, verdict):
    arrangement = demo()
    played = perform(arrangement)
    starts = {played.written[k].start for k in bends(arrangement, played)}
    notes = tuple(
        note._replace(midi=note.midi + cents / 100) if note.start in starts else note
        for note in played.notes
    )
    report = judge(taken(arrangement, played._replace(notes=notes)))
    assert len(report.bends) == len(starts) == 4
    assert {bend.verdict for bend in report.bends} == {BendVerdict(verdict)}
    assert all(abs(bend.settled - cents) < 2 for bend in report.bends)
    assert not faults(report)


def test_dragged_bar_stands_out_and_a_tune_that_speeds_up_has_none():
    arrangement = demo()
    report = report_on(arrangement, dragged_bars=[12], drift=0.15)
    told = [k for k, bar in enumerate(report.bars) if bar.verdict is not BarVerdict.STEADY]
    assert told == [12] and report.bars[12].verdict is BarVerdict.DRAGGED
    assert 33 < report.bars[12].percent < 50  # at 0.7 of the tempo it lasts 1 / 0.7 as long
    drifting = report_on(arrangement, drift=0.15)
    assert all(bar.verdict is BarVerdict.STEADY for bar in drifting.bars)
    assert drifting.tempo is not None and 8 < drifting.tempo.drift < 15
    assert "faster" in drifting.most_useful[0].what


def test_tempo_is_that_of_the_tune():
    """The reel's Q: says 96 minims a minute."""
    tempo = report_on(demo()).tempo
    assert tempo is not None
    assert tempo.beats_per_minute == pytest.approx(96, rel=0.02)
    assert tempo.unsteadiness < 1.5


def test_bar_with_a_fermata_is_held_at_will(tmp_path):
    text = TUNES.read_text().replace("g2fg edBd", "g2fg !fermata!e2Bd")
    (tmp_path / "held.abc").write_text(text)
    tune = next(iter(read_tunes(tmp_path / "held.abc")))
    arrangement = arrange(tune, make_harp("G"), load_profile("all-techniques"))
    bar = report_on(arrangement).bars[2]
    assert bar.number == 2 and bar.end - bar.start > 1.15 * bar.expected  # it is held
    assert bar.verdict is BarVerdict.STEADY and not bar.tells


@pytest.mark.parametrize(
    "how", [{"breaks": [(6, 2)]}, {"rounds": 2, "between": 2.0}, {"false_start": 9}]
)
def test_beginning_again_and_resting_between_rounds_are_no_matter_of_tempo(how):
    arrangement = demo()
    heard = heard_of(perform(arrangement, **how).notes)
    report = judge(follow(arrangement, heard))
    assert report.fits and len(report.bars) >= 30
    assert all(bar.verdict is BarVerdict.STEADY for bar in report.bars)
    assert all(bar.end - bar.start < 2.5 for bar in report.bars)  # seconds; a bar lasts 1.25


def test_stop_in_the_middle_of_a_bar_is_told():
    arrangement = demo()
    played = perform(arrangement)
    at = played.written[60].start - 0.005
    later = [
        n._replace(start=n.start + 3, end=n.end + 3) if n.start > at else n for n in played.notes
    ]
    report = judge(follow(arrangement, heard_of(later)))
    assert [b.verdict for b in report.bars if b.verdict is not BarVerdict.STEADY] == [
        BarVerdict.STOPPED
    ]


def test_reed_that_is_always_off_is_the_harp_and_no_fault_of_the_player():
    arrangement = demo()
    played = perform(arrangement)
    notes = tuple(
        n._replace(midi=n.midi + 0.22) if round(n.midi) == 74 else n for n in played.notes
    )
    report = judge(taken(arrangement, played._replace(notes=notes), cents=-14))
    off = [reed for reed in report.reeds if reed.is_off]
    assert [(reed.hole, reed.breath.value) for reed in off] == [(6, "blow")]
    assert off[0].cents == pytest.approx(22, abs=1.5)
    assert not faults(report)
    assert "That is the harp, not you." in report.most_useful[0].what


def test_just_take_is_in_tune_with_just_and_not_with_equal():
    arrangement = demo()
    played = perform(arrangement)
    just = find_temperament("just")
    notes = tuple(
        n._replace(midi=n.midi + offset(just, round(n.midi), arrangement.harp) / 100)
        for n in played.notes
    )
    following = taken(arrangement, played._replace(notes=notes), cents=7)
    in_just = judge(following, "just")
    assert max(abs(n.cents) for n in in_just.notes if n.cents is not None) < 1
    thirds = [n.cents for n in judge(following).notes if n.midi % 12 == 11 and n.cents is not None]
    home = [n.cents for n in judge(following).notes if n.midi % 12 == 7 and n.cents is not None]
    # B above G: a pure third is 13.69 cents narrower than an equal one (textbook).
    assert thirds[0] - home[0] == pytest.approx(-13.69, abs=0.2)


def test_take_on_a_harp_set_by_its_chords_is_in_tune_with_them():
    arrangement = demo()
    played = perform(arrangement)
    by_reed = reed_cents(find_reed_temperament("chords-seven"), arrangement.harp)
    ways = arrangement.soundings
    notes = tuple(
        n._replace(midi=n.midi + by_reed[Reed(ways[n.id].hole, ways[n.id].breath)] / 100)
        if not n.is_grace and ways[n.id].technique is Technique.NATURAL
        else n
        for n in played.notes
    )
    following = taken(arrangement, played._replace(notes=notes), cents=7)

    def farthest(temperament: str) -> float:
        found = judge(following, temperament).reeds
        return max(abs(reed.cents) for reed in found)

    # Its flat seventh lies 31 cents below equal temperament's (7/4 is 968.83 cents, textbook).
    assert farthest("chords-seven") < 1.5 < 10 < farthest("equal")


def test_ornament_of_the_players_own_is_no_fault():
    arrangement = demo()
    played = perform(arrangement)
    notes = list(played.notes)
    k = next(k for k, n in enumerate(notes) if not n.is_grace and n.end - n.start > 0.25 and k > 20)
    note = notes[k]
    notes[k : k + 1] = [
        Played(note.start - 0.06, note.start - 0.01, note.midi + 3),
        note,
    ]
    notes[k - 1] = notes[k - 1]._replace(end=note.start - 0.065)
    heard = heard_of(notes, jitter=0.001)
    report = judge(followed(arrangement, played, heard))
    assert [added.is_ornament for added in report.added] == [True]
    assert not faults(report) and not report.most_useful
    assert any("of your own" in sentence for sentence in report.went_well)


def test_added_notes_can_be_written_as_json_where_their_times_came_from_arrays():
    arrangement = demo()
    played = perform(arrangement, added=[30])
    heard = heard_of(played.notes)
    notes = tuple(
        replace(note, start=np.float64(note.start), end=np.float64(note.end))
        for note in heard.notes
    )
    report = judge(followed(arrangement, played, replace(heard, notes=notes)))
    assert len(json.loads(json.dumps(report_json(report)))["added"]) == 1


def test_long_added_note_is_told():
    report = report_on(demo(AIR, "D"), added=[6])
    assert [added.is_ornament for added in report.added] == [False]
    assert "not written" in report_text(report)


def test_graces_left_out_are_counted_and_not_scolded():
    arrangement = demo()
    played = perform(arrangement)
    left = tuple(note for note in played.notes if not note.is_grace)
    report = judge(taken(arrangement, played._replace(notes=left)))
    assert report.ornaments.played == 0
    assert report.ornaments.written == len(report.ornaments.left_out) > 0
    assert not [n for n in report.notes if n.verdict is not Verdict.PLAYED and not n.is_grace]
    assert "stands without them" in report.most_useful[0].advice


def test_same_fault_in_each_repeat_comes_first():
    arrangement = demo()
    notes = perform(arrangement).written
    times = Counter(truth.id for truth in notes)
    k = next(k for k, truth in enumerate(notes) if times[truth.id] == 2 and k > 30)
    both = [i for i, truth in enumerate(notes) if truth.id == notes[k].id]
    report = report_on(arrangement, wrong=[12, *both], wrong_by=2)
    first = report.most_useful[0]
    assert "each time" in first.what and len(report.most_useful) <= 3


def test_take_of_something_else_is_not_judged():
    following = replace(taken(demo(), perform(demo())), sureness=0.1)
    report = judge(following)
    assert not report.fits and not report.notes
    text = report_text(report, 72)
    assert "does not fit" in text and "Most useful" not in text
    assert report_json(report)["fits"] is False


def test_even_quavers_are_told_from_lilting_ones():
    straight = report_on(demo(), lilt=False).lilt
    lilting = report_on(demo(), lilt=True).lilt
    assert straight is not None and lilting is not None
    assert straight.ratio == pytest.approx(1.0, abs=0.05)
    assert lilting.ratio > 1.05


@pytest.mark.parametrize("width", [40, 72, 120])
def test_lines_keep_to_the_width(width):
    report = report_on(demo(), wrong=[5, 30], missed=[50], dragged_bars=[9])
    assert all(len(line) <= width for line in report_text(report, width).splitlines())


def test_json_holds_every_note_and_can_be_written():
    report = report_on(demo(), wrong=[5], missed=[50], dragged_bars=[9])
    data = json.loads(json.dumps(report_json(report)))
    assert len(data["notes"]) == len(report.notes)
    assert Counter(note["verdict"] for note in data["notes"]) == Counter(
        note.verdict.value for note in report.notes
    )
    assert data["bars"][9]["verdict"] == "dragged"
    assert len(data["most_useful"]) == 3


def test_bends_are_not_praised_where_another_harp_is_likelier():
    """On another harp they may have been plain notes."""
    report = report_on(demo(JIG, "C"))
    assert any(sentence.startswith("Every bend") for sentence in report.went_well)
    found = report.harp_found
    assert found is not None
    other = replace(found.candidates[0], harp=make_harp("D", "richter"))
    doubted = replace(report, harp_found=replace(found, candidates=(other,)))
    assert not any("bend" in sentence for sentence in went_well(doubted))


def test_a_bar_dragged_twice_of_four_times_is_not_said_to_drag_both_times():
    arrangement = demo()
    places = perform(arrangement).bars
    same = [k for k, each in enumerate(places) if each.index == places[5].index]
    report = report_on(arrangement, dragged_bars=same)
    assert len(same) == 2 and "It drags both times:" in report.most_useful[0].what
    steady = [replace(bar, verdict=BarVerdict.STEADY) for bar in report.bars]
    longer = replace(report, bars=(*report.bars, *steady))
    assert "It drags twice of four:" in most_useful(longer)[0].what


def test_timing_and_graces_are_told_in_words():
    arrangement = demo()
    played = perform(arrangement, dragged_bars=[3])
    left = [note for note in played.notes if not note.is_grace]
    some = [note for note in played.notes if note.is_grace][:2]
    text = " ".join(
        report_text(
            judge(taken(arrangement, played._replace(notes=tuple(sorted([*left, *some])))))
        ).split()
    )
    assert "(part A, first time) at" in text
    assert "heard; the quickest may have been played and not heard." in text


def test_a_note_that_a_tie_holds_on_the_second_time_is_played_both_times():
    (tune,) = read_abc("X:1\nM:4/4\nL:1/8\nK:G\n|:A4 G2B2|d2B2 G2B2|c2A2 F2A2|B4 A4-:|A4 G4|\n")
    arrangement = arrange(tune, make_harp("G"), load_profile("player"))
    played = [  # each tied note rings on for no more than its first written length
        Played(
            1 + 0.4 * float(n.onset),
            1 + 0.4 * float(n.onset + n.note.length) - 0.05,
            n.note.pitch.midi,
        )
        for n in unfold(tune).notes
        if not n.held
    ]
    report = judge(follow(arrangement, heard_of(played)))
    assert [note.time for note in report.notes if note.id == report.notes[0].id] == [1, 2]
    assert not faults(report)
    silent = [note for k, note in enumerate(played) if k != 11]  # the A before the repeat
    assert Verdict.MISSED in faults(judge(follow(arrangement, heard_of(silent)))).values()
