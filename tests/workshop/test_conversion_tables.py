"""Conversions of published tunings, reed by reed, from tables printed elsewhere.

Wikipedia, "Richter tuning" (standard layout, country, harmonic minor, natural minor, and the
raised third blow with raised fifth and ninth draw) and "Solo tuning", read as excerpts. The tables
name notes without octaves; each row of reeds rises from hole to hole (a note may be there twice).
Other keys are those tables transposed by music21.
"""

from __future__ import annotations

import music21
import pytest

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Harp, Reed, Tuning
from reedwright.harp.naming import KEYS, parse_note
from reedwright.workshop.conversion.model import Work
from reedwright.workshop.conversion.planning import plan_conversion, rank_stocks

RICHTER = ("C E G C E G C E G C", "D G B D F A B D F A")
COUNTRY = ("C E G C E G C E G C", "D G B D F# A B D F A")
NATURAL_MINOR = ("C Eb G C Eb G C Eb G C", "D G Bb D F A Bb D F A")
HARMONIC_MINOR = ("C Eb G C Eb G C Eb G C", "D G B D F Ab B D F Ab")
MAJOR_CROSS = ("C E A C E G C E G C", "D G B D F# A B D F# A")
SOLO = ("C E G C C E G C C E", "D F A B D F A B D F")
RAISED_THIRD = ("C E A C E G C E G C", "D G B D F A B D F A")  # common practice, no source

Row = list[int]


def row(names: str, semitones: int) -> Row:
    """MIDI notes of a printed row, from the octave of middle C up, moved by music21."""
    found: Row = []
    for name in names.split():
        midi = parse_note(f"{name}4")
        while found and midi < found[-1]:
            midi += 12
        found.append(midi)
    moved = [music21.pitch.Pitch(midi=midi).transpose(semitones) for midi in found]
    return [int(pitch.midi) for pitch in moved]


def printed_changes(table: tuple[str, str], semitones: int) -> dict[Reed, tuple[int, int]]:
    """From and to of every reed that differs between the two printed tables."""
    found = {}
    for breath, plain, other in zip(Breath, RICHTER, table, strict=True):
        pairs = zip(row(plain, semitones), row(other, semitones), strict=True)
        for hole, (before, after) in enumerate(pairs, start=1):
            if before != after:
                found[Reed(hole, breath)] = (before, after)
    return found


# Trade name of the key that is printed on the harp, our tuning, the table, semitones from C,
# the stock harp's key.
PRINTED = [
    ("C", "richter-raised-3-blow", RAISED_THIRD, 0, "C"),
    ("D", "richter-raised-3-blow", RAISED_THIRD, 2, "D"),
    ("C", "richter-raised-5-draw", COUNTRY, 0, "C"),
    ("A", "richter-raised-5-draw", COUNTRY, -3, "A"),
    ("G", "natural-minor", NATURAL_MINOR, 0, "C"),  # named by second position
    ("A", "natural-minor", NATURAL_MINOR, 2, "D"),
    ("C", "harmonic-minor", HARMONIC_MINOR, 0, "C"),
    ("F", "harmonic-minor", HARMONIC_MINOR, 5, "F"),
    ("C", "solo", SOLO, 0, "C"),
    ("Bb", "solo", SOLO, -2, "Bb"),
]


@pytest.mark.parametrize(("key", "tuning", "table", "semitones", "stock"), PRINTED)
def test_reeds_to_change_are_those_that_differ_in_print(
    key: str, tuning: str, table: tuple[str, str], semitones: int, stock: str
) -> None:
    plan = plan_conversion(make_harp(key, tuning), stock=make_harp(stock))
    expected = printed_changes(table, semitones)
    assert {work.reed: (work.from_midi, work.to_midi) for work in plan.works} == expected
    for work in plan.works:
        before, after = expected[work.reed]
        assert work.cents == pytest.approx(100 * (after - before), abs=1e-9)
        assert work.from_hz == pytest.approx(music21.pitch.Pitch(midi=before).frequency, rel=1e-9)
        assert work.to_hz == pytest.approx(music21.pitch.Pitch(midi=after).frequency, rel=1e-9)
        if abs(after - before) <= 2:
            assert work.work is (Work.RAISE if after > before else Work.LOWER)
        else:
            assert work.work is Work.SWAP
            assert work.warning


@pytest.mark.parametrize(
    ("table", "count", "cents"),
    [
        (RAISED_THIRD, 1, {200}),
        (COUNTRY, 1, {100}),
        (NATURAL_MINOR, 5, {-100}),
        (HARMONIC_MINOR, 5, {-100}),
        (MAJOR_CROSS, 3, {100, 200}),
    ],
)
@pytest.mark.parametrize("key", ["C", "E", "G"])
def test_no_other_stock_harp_does_as_well_as_that_of_the_same_home_note(
    key: str, table: tuple[str, str], count: int, cents: set[int]
) -> None:
    tuning = Tuning("printed", "as printed", "", tuple(row(table[0], 0)), tuple(row(table[1], 0)))
    ranked = rank_stocks(make_harp(key, tuning))
    best, runner_up = ranked[:2]
    assert best.stock == make_harp(key)
    assert best.effort < runner_up.effort
    assert len(best.works) == count
    assert {round(work.cents) for work in best.works} == cents


def test_raised_third_blow_is_one_reed_a_whole_tone_up() -> None:
    plan = plan_conversion(make_harp("G", "richter-raised-3-blow"))
    assert plan.stock == make_harp("G")
    (work,) = plan.works
    assert (work.reed, work.work) == (Reed(3, Breath.BLOW), Work.RAISE)
    # G harp: 3 blow D4 to E4; equal temperament at ISO 16's 440 Hz as printed in textbooks.
    assert (round(work.from_hz, 2), round(work.to_hz, 2)) == (293.66, 329.63)
    assert work.cents == pytest.approx(200.0)
    assert plan.semitones == pytest.approx(2.0)


@pytest.mark.parametrize("key", KEYS)
def test_no_stock_harp_serves_a_raised_third_blow_better_in_any_key(key: str) -> None:
    best, *others = rank_stocks(make_harp(key, "richter-raised-3-blow"))
    assert best.stock == make_harp(key)
    assert [round(work.cents, 6) for work in best.works] == [200.0]
    assert all(other.effort > best.effort for other in others)
    assert all(other.semitones > best.semitones for other in others)


def test_published_solo_harp_is_not_a_retuning() -> None:
    wanted: Harp = make_harp("C", "solo")
    plan = plan_conversion(wanted, stock=make_harp("C"))
    # By the tables: every reed but 1 to 4 blow and 1 draw; a third and more from 4 draw up.
    assert len(plan.works) == 15
    far = {Reed(hole, Breath.BLOW) for hole in range(5, 11)} | {
        Reed(hole, Breath.DRAW) for hole in (4, 5, 6, 8, 9, 10)
    }
    assert {work.reed for work in plan.works if work.work is Work.SWAP} == far
    assert any("set of plates" in note for note in plan.notes)
    assert any("are sold" in note for note in plan.notes)
