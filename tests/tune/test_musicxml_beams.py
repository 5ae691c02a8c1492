"""Beams, note types and chord symbols: the small rules under the MusicXML writer.

Expected groupings are common practice of printed dance music, no source.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reedwright.tune.model import Meter, Tuplet
from reedwright.tune.musicxml.beams import Beamable, beam_windows, beams
from reedwright.tune.musicxml.lengths import NOTE_TYPES, printed_notes
from reedwright.tune.musicxml.signs import parse_chord

QUAVER, SEMI, DOTTED = Fraction(1, 2), Fraction(1, 4), Fraction(3, 4)


def notes_of(lengths: list[Fraction], start: Fraction = Fraction(0)) -> list[Beamable]:
    found = []
    for length in lengths:
        flags = 0 if length >= 1 else (1 if length >= QUAVER else 2)
        found.append(Beamable(start, length, flags, joined=True))
        start += length
    return found


def groups(lengths: list[Fraction], meter: Meter, start: Fraction = Fraction(0)) -> list[int]:
    """Sizes of the groups that first-level beams make; 1 for a note alone."""
    sizes: list[int] = []
    for shapes in beams(notes_of(lengths, start), meter, follow_source=False):
        shape = dict(shapes).get(1)
        if shape in (None, "begin"):
            sizes.append(1)
        else:
            sizes[-1] += 1
    return sizes


@pytest.mark.parametrize(
    ("meter", "quavers", "expected"),
    [
        (Meter((4,), 4), 8, [4, 4]),
        (Meter((2,), 2, "C|"), 8, [4, 4]),
        (Meter((6,), 8), 6, [3, 3]),
        (Meter((9,), 8), 9, [3, 3, 3]),
        (Meter((12,), 8), 12, [3, 3, 3, 3]),
        (Meter((2,), 4), 4, [4]),
        (Meter((3,), 4), 6, [6]),
        (Meter((3,), 8), 3, [3]),
        (Meter((2, 3), 8), 5, [2, 3]),
        (Meter((3, 2, 2), 8), 7, [3, 2, 2]),
    ],
    ids=lambda value: value.name if isinstance(value, Meter) else None,
)
def test_quavers_are_grouped_as_the_metre_is_felt(
    meter: Meter, quavers: int, expected: list[int]
) -> None:
    assert groups([QUAVER] * quavers, meter) == expected


def test_upbeat_is_grouped_from_the_end_of_the_bar() -> None:
    assert groups([QUAVER] * 3, Meter((6,), 8), start=Fraction(3, 2)) == [3]
    assert groups([QUAVER] * 3, Meter((4,), 4), start=Fraction(5, 2)) == [3]
    assert groups([QUAVER] * 3, Meter((4,), 4), start=Fraction(3, 2)) == [1, 2]


def test_crotchet_breaks_a_beam() -> None:
    assert groups([QUAVER, Fraction(1), QUAVER], Meter((2,), 4)) == [1, 1, 1]


def test_semiquavers_break_at_the_beat() -> None:
    assert groups([SEMI] * 8, Meter((2,), 4)) == [4, 4]


def test_source_breaks_are_kept_and_never_cross_a_beat() -> None:
    notes = notes_of([QUAVER] * 8)
    notes[1] = notes[1]._replace(joined=False)
    shapes = [dict(s).get(1) for s in beams(notes, Meter((4,), 4), follow_source=True)]
    assert shapes == ["begin", "end", "begin", "end", "begin", "continue", "continue", "end"]


def test_dotted_pairs_have_hooks_towards_their_own_beat() -> None:
    found = beams(notes_of([DOTTED, SEMI, DOTTED, SEMI]), Meter((4,), 4), follow_source=False)
    assert found == [
        ((1, "begin"),),
        ((1, "continue"), (2, "backward hook")),
        ((1, "continue"),),
        ((1, "end"), (2, "backward hook")),
    ]


def test_short_then_long_hooks_forward() -> None:
    found = beams(notes_of([SEMI, DOTTED]), Meter((2,), 4), follow_source=False)
    assert found[0] == ((1, "begin"), (2, "forward hook"))


def test_tuplets_have_a_beam_of_their_own() -> None:
    notes = notes_of([Fraction(1, 3)] * 3 + [QUAVER] * 2)
    notes = [n._replace(flags=1) for n in notes]
    notes[0] = notes[0]._replace(tuplet_first=True)
    notes[2] = notes[2]._replace(tuplet_last=True)
    shapes = [dict(s).get(1) for s in beams(notes, Meter((4,), 4), follow_source=False)]
    assert shapes == ["begin", "continue", "end", "begin", "end"]


def test_every_begun_beam_ends() -> None:
    for meter in (Meter((4,), 4), Meter((6,), 8), Meter((), 4)):
        for shapes in (beams(notes_of([SEMI] * 13), meter, follow_source=False),):
            names = [dict(s).get(1) for s in shapes]
            assert names.count("begin") == names.count("end")


def test_windows_fill_the_bar() -> None:
    for meter in (Meter((4,), 4), Meter((3,), 2), Meter((9,), 8), Meter((2, 3), 8), Meter((5,), 8)):
        assert sum(beam_windows(meter)) == meter.bar_length


@given(
    st.fractions(min_value=Fraction(1, 64), max_value=20, max_denominator=96),
    st.sampled_from([None, Tuplet(3, 2, True, False), Tuplet(5, 4, True, False)]),
)
def test_printed_notes_add_up_to_the_length(length: Fraction, tuplet: Tuplet | None) -> None:
    pieces = printed_notes(length, tuplet)
    assert sum(piece.length for piece in pieces) == length
    types = dict(NOTE_TYPES)
    for piece in pieces[:-1]:
        written = types[piece.type] * (2 - Fraction(1, 2**piece.dots))
        assert written * piece.normal / piece.actual == piece.length


@pytest.mark.parametrize(
    ("length", "expected"),
    [
        (Fraction(1), [("quarter", 0)]),
        (Fraction(3, 2), [("quarter", 1)]),
        (Fraction(7, 4), [("quarter", 2)]),
        (Fraction(5, 2), [("half", 0), ("eighth", 0)]),
        (Fraction(9, 2), [("whole", 0), ("eighth", 0)]),
        (Fraction(8), [("breve", 0)]),
    ],
)
def test_lengths_are_shown_with_as_few_notes_as_may_be(
    length: Fraction, expected: list[tuple[str, int]]
) -> None:
    assert [(piece.type, piece.dots) for piece in printed_notes(length)] == expected


@pytest.mark.parametrize(
    ("symbol", "expected"),
    [
        ("Em", ("E", 0, "minor", None)),
        ("F#m7", ("F", 1, "minor-seventh", None)),
        ("Bb", ("B", -1, "major", None)),
        ("D/F#", ("D", 0, "major", "F")),
        ("G7", ("G", 0, "dominant", None)),
        ("Bdim", ("B", 0, "diminished", None)),
    ],
)
def test_chord_symbols_are_taken_apart(
    symbol: str, expected: tuple[str, int, str, str | None]
) -> None:
    chord = parse_chord(symbol)
    assert chord is not None
    assert (chord.root, chord.alter, chord.kind, chord.bass) == expected


@pytest.mark.parametrize("symbol", ["", "N.C.", "Hm", "Gxyz", "play twice"])
def test_words_are_no_chords(symbol: str) -> None:
    assert parse_chord(symbol) is None
