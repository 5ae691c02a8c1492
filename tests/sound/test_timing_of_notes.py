"""When notes are heard: tempo, lilt, cuts, count-in, holds and repeats."""

import itertools
from dataclasses import replace
from fractions import Fraction

import pytest
from sounding_tunes import AIR, HORNPIPE, JIG, REEL, example, from_abc

from reedwright.errors import ReedwrightError
from reedwright.sound.events import Onset, Timeline
from reedwright.sound.lilt import Lilt, lilt_of
from reedwright.sound.ornaments import LONGEST_CUT, SHORTEST_CUT
from reedwright.sound.timing import DURATION_STEP, LEAD, RING, CutPlace, plan
from reedwright.tab.breath.model import BreathMark, BreathReason


def starts(timeline: Timeline) -> list[float]:
    return [note.span.start - timeline.tune_start for note in timeline.notes]


def close(*values: float) -> object:
    return pytest.approx(list(values), abs=1e-9)


def test_crotchets_at_120_are_half_a_second_apart() -> None:
    timeline = plan(from_abc("c2d2e2f2|g8|]"), count_in=False)
    assert starts(timeline) == close(0, 0.5, 1, 1.5, 2)
    assert 0 <= timeline.duration - (LEAD + 4 + RING) < DURATION_STEP


def test_half_speed_takes_twice_the_time_and_keeps_cuts_quick() -> None:
    arrangement = from_abc("{d}c2d2{f}e2f2|")
    full, slow = plan(arrangement, count_in=False), plan(arrangement, 120, 0.5, count_in=False)
    notes = [n for n in slow.notes if not n.is_grace]
    assert notes[1].span.start - slow.tune_start == pytest.approx(1.0)
    for timeline in (full, slow):
        cuts = [n.seconds for n in timeline.notes if n.is_grace]
        assert len(cuts) == 2
        assert all(SHORTEST_CUT <= cut <= LONGEST_CUT + 1e-9 for cut in cuts)


@pytest.mark.parametrize("place", CutPlace)
@pytest.mark.parametrize("tempo", [60, 180, 400, 900])
def test_cuts_never_take_more_than_a_third(place: CutPlace, tempo: int) -> None:
    arrangement = from_abc("cd{gc'g}ef {g}a/{f}g/a/g/ {d}c4|", tempo=f"1/4={tempo}")
    timeline = plan(arrangement, count_in=False, cuts=place)
    by_start = sorted(timeline.notes, key=lambda note: note.span.start)
    assert list(timeline.notes) == by_start
    for before, after in itertools.pairwise(by_start):
        assert before.span.end <= after.span.start + 1e-9
        assert before.seconds > 0
    quaver = 30 / tempo
    assert sum(n.seconds for n in timeline.notes[2:5]) <= quaver / 3 + 1e-9
    main = next(n for n in timeline.notes[5:] if not n.is_grace)
    on_beat = timeline.tune_start + 2 * quaver
    if place is CutPlace.BEFORE:
        assert main.span.start == pytest.approx(on_beat)
    else:
        assert timeline.notes[2].span.start == pytest.approx(on_beat)


def test_hornpipe_quavers_written_dotted_are_played_two_to_one() -> None:
    # Common practice: nearer to a triplet's crotchet and quaver than to 3:1.
    timeline = plan(example(HORNPIPE), tempo=120, count_in=False)
    first, second, third = starts(timeline)[:3]
    assert first == 0
    assert second / (third - second) == pytest.approx(2.0)
    straight = starts(plan(example(HORNPIPE), tempo=120, count_in=False, lilt=False))
    assert straight[1] / (straight[2] - straight[1]) == pytest.approx(3.0)
    assert straight[2] == pytest.approx(third)  # beats stay where they are


def test_lilt_moves_no_beat_and_leaves_triplets_even() -> None:
    arrangement = from_abc("(3cdefg a2g2|", kind="hornpipe")
    lilted = starts(plan(arrangement, count_in=False))
    assert lilted[:4] == close(0, 1 / 6, 1 / 3, 0.5)
    assert lilted[5:] == close(1.0, 1.5)
    assert lilted[4] - 0.5 == pytest.approx(0.5 * 1.6 / 2.6)


def test_a_jig_leans_on_the_first_of_three_and_an_own_lilt_is_obeyed() -> None:
    arrangement = from_abc("cde fga|", meter="6/8", kind="jig", tempo="3/8=60")
    first, second, third, beat = starts(plan(arrangement, count_in=False))[:4]
    assert beat == pytest.approx(1.0)
    assert second - first > beat - third > third - second
    own = Lilt("mine", Fraction(3, 2), compound=(2.0, 0.5, 0.5))
    assert starts(plan(arrangement, count_in=False, lilt=own))[:3] == close(0, 2 / 3, 5 / 6)


def test_reels_are_counted_in_two_and_jigs_by_dotted_crotchets() -> None:
    assert len(plan(example(REEL)).clicks) == 2
    assert len(plan(example(JIG)).clicks) == 2
    assert len(plan(example(AIR)).clicks) == 3
    assert lilt_of(example(REEL).tune).felt == 2


def test_a_type_written_another_way_has_its_lilt_too() -> None:
    assert lilt_of(from_abc("A3 B3 c3|", "9/8", "Slipjig").tune).name == "slip jig"


def test_the_count_in_ends_on_the_first_bar_and_holds_the_upbeat() -> None:
    timeline = plan(from_abc("A|d3 f3|", meter="6/8", kind="jig", tempo="3/8=60", key="D"))
    assert [click.strong for click in timeline.clicks] == [True, False]
    assert [click.time for click in timeline.clicks] == close(LEAD, LEAD + 1)
    upbeat, first = timeline.notes[0], timeline.notes[1]
    assert first.span.start == pytest.approx(LEAD + 2)
    assert LEAD + 1 < upbeat.span.start < LEAD + 2


def test_a_tempo_change_midway_is_kept_and_scaled() -> None:
    arrangement = from_abc("c4 d4|[Q:1/4=60] e4 f4|")
    assert starts(plan(arrangement, count_in=False)) == close(0, 1, 2, 4)
    assert starts(plan(arrangement, tempo=240, count_in=False)) == close(0, 0.5, 1, 2)


def test_a_fermata_holds_and_what_follows_waits() -> None:
    held = starts(plan(from_abc("c2 !fermata!d2 e4|"), count_in=False))
    assert held[1] == pytest.approx(0.5)
    assert held[2] > 1.2


def test_ties_join_rests_are_silent_and_staccato_is_short() -> None:
    timeline = plan(from_abc("c4-c2 z2|.d2 e6|"), count_in=False)
    first, second, third = timeline.notes
    assert first.seconds == pytest.approx(1.5, abs=0.03)
    assert second.span.start - timeline.tune_start == pytest.approx(2.0)
    assert second.seconds == pytest.approx(0.25)
    assert third.span.start - timeline.tune_start == pytest.approx(2.5)
    assert len(timeline.spans) == 4  # both notes of the tie are on the map


def test_slurs_flow_and_other_notes_are_tongued() -> None:
    notes = plan(from_abc("(ce) gc|"), count_in=False).notes
    onsets = [note.onset for note in notes]
    assert onsets == [Onset.TONGUED, Onset.SLURRED, Onset.TONGUED, Onset.TONGUED]
    assert notes[0].span.end == pytest.approx(notes[1].span.start)
    assert notes[1].span.end < notes[2].span.start


def test_the_timing_map_has_every_note_each_time_that_it_is_played() -> None:
    arrangement = from_abc("|:c2d2|1 e4:|2 f4|]")
    timeline = plan(arrangement, count_in=False)
    counts = [len(timeline.spans[note.id]) for note in arrangement.tune.voices[0].notes]
    assert counts == [2, 2, 1, 1]
    again = timeline.spans[next(arrangement.tune.voices[0].notes).id][1]
    assert again.start - timeline.tune_start == pytest.approx(2.0)


def test_a_roll_is_played_from_the_holes_beside_and_fits_its_note() -> None:
    notes = plan(from_abc("~g4 c4|"), count_in=False).notes
    roll = notes[:5]
    assert [note.is_grace for note in roll] == [False, True, False, True, False]
    # Blow 6 sounds G5 on a C harp; blow 7 is C6 and blow 5 is E5 (the published layout).
    assert [note.midi for note in roll] == [79, 84, 79, 76, 79]
    assert [note.onset for note in roll[1:]] == ["slurred"] * 4  # all in one breath
    assert roll[-1].span.end <= notes[0].span.start + 1.0


def test_the_first_beat_is_stressed() -> None:
    notes = plan(from_abc("cdef gagf|", meter="4/4", kind="reel"), count_in=False).notes
    loud = [note.velocity for note in notes]
    assert loud[0] == max(loud)
    assert loud[4] > loud[2] > loud[1]


def test_bends_start_at_the_reed_and_arrive_early() -> None:
    # Draw 3 on a C harp is B4; a semitone bend is Bb4 (published layout).
    bend = plan(from_abc("_B4 d4|", key="C"), count_in=False).notes[0]
    assert bend.sounding is not None and bend.sounding.bend == 1
    assert bend.glide_from == 100 and 0 < bend.glide_time <= 0.35 * bend.seconds


def test_a_tempo_that_nobody_plays_is_refused() -> None:
    with pytest.raises(ReedwrightError, match="choose one from"):
        plan(from_abc("c8|"), tempo=5000)


def test_a_slide_begins_bent_and_rises_into_its_note() -> None:
    # On a C harp 4 draw, D5, bends by a semitone (the published layout).
    grace, note = plan(from_abc("!slide!d4 c4|"), count_in=False).notes[:2]
    assert (grace.midi, grace.is_grace, grace.glide_from) == (73, True, 0.0)
    assert (note.midi, note.onset, note.glide_from) == (74, "slurred", -100.0)
    assert 0.05 < note.glide_time < note.seconds / 2


def test_a_warble_shakes_between_its_two_holes_and_ends_on_its_own() -> None:
    # Beside 4 draw (D5) lies 5 draw, F5 (the published layout).
    timeline = plan(from_abc("!trill!d8|c8|"), count_in=False)
    shaken = [n for n in timeline.notes if n.span.end < timeline.notes[-1].span.start + 1e-6]
    assert {n.midi for n in shaken} == {74, 77}
    assert shaken[0].midi == 77 and shaken[-1].midi == 74
    assert all(one.midi != two.midi for one, two in itertools.pairwise(shaken))
    assert all(0.03 < n.seconds < 0.1 for n in shaken[1:])


def test_a_breath_takes_its_time_from_the_note_before() -> None:
    def seconds(mark: str) -> float:
        return plan(from_abc(f"c2{mark}d2 e4|", kind=""), count_in=False).notes[1].seconds

    taken = seconds("!breath!") - seconds("")
    assert taken == pytest.approx(-0.25, abs=0.03)  # less the gap that was there anyhow


def test_a_note_that_is_left_out_for_a_breath_is_silent() -> None:
    arrangement = from_abc("c2d2 e4|")
    ids = [note.id for note in arrangement.tune.voices[0].notes]
    mark = BreathMark(ids[1], 1, BreathReason.DROPPED_NOTE)
    timeline = plan(replace(arrangement, breaths=(mark,)), count_in=False)
    assert [note.id for note in timeline.notes] == [ids[0], ids[2]]
    assert timeline.notes[1].span.start - timeline.tune_start == pytest.approx(1.0)
