"""Tunebooks as they are: what is repaired and told, what is warned of, what is refused.

How repeats are repaired: ABC 2.1, section 4.8, and abc2midi 4.84 (run by hand for the cases here).
"""

import pytest

from reedwright.tune.abc import AbcError, Refused, read_abc
from reedwright.tune.model import BarLine, Severity, Tune
from reedwright.tune.unfold import unfold

HEAD = "X:1\nT:Test\nM:2/4\nL:1/8\nK:C\n"


def read(body: str, head: str = HEAD) -> Tune:
    (tune,) = read_abc(f"{head}{body}\n")
    assert isinstance(tune, Tune), str(tune)
    return tune


def refused(text: str) -> AbcError:
    (tune,) = read_abc(text, "book.abc")
    assert isinstance(tune, Refused)
    assert isinstance(tune.error, AbcError)
    return tune.error


def played(body: str, head: str = HEAD) -> str:
    """The letters of the notes as they are played."""
    return "".join(s.pitch.step for s in unfold(read(body, head)).sounding)


def repairs(tune: Tune) -> list[str]:
    return [p.message for p in tune.problems if p.severity is Severity.REPAIRED]


def warnings(tune: Tune) -> list[str]:
    return [p.message for p in tune.problems if p.severity is Severity.WARNING]


@pytest.mark.parametrize(
    ("body", "order"),
    [  # each of these was run through abc2midi 4.84, which plays this
        ("A4|B4:|c4|", "ABABC"),
        ("A4|B4|c4:|d4|", "ABCABCD"),
        ("A4||B4:|", "ABAB"),
        ("A4:|B4:|c4:|d4|", "AABBCCD"),
        ("|:A4:|B4||c4:|d4|", "AABCCD"),
        ("A4||B4:|c4||d4:|", "ABABCDD"),
        ("|:A4|B4|:c4|d4:|", "ABABCDCD"),
        ("|:A4|1 B4:|2 c4|d4|", "ABACD"),
        ("A4|1 B4:|2 c4|", "ABAC"),
    ],
)
def test_missing_repeat_signs_are_read_as_abc2midi_reads_them(body: str, order: str) -> None:
    assert played(body) == order


def test_repeat_end_after_endings_goes_back_to_the_double_bar() -> None:
    """Section 4.8; abc2midi goes to the start and drops the endings, which nobody plays."""
    assert played("|:A4|1 B4:|2 c4||d4|e4:|") == "ABACDEDE"


def test_repeat_end_goes_back_to_its_part_label() -> None:
    assert played("P:A\nA4|B4|\nP:B\nc4|d4:|") == "ABCDCD"


def test_every_repair_is_told_with_its_place() -> None:
    tune = read("A4|B4:|c4")
    assert any("without a start" in text for text in repairs(tune))
    assert any("last bar line" in text for text in repairs(tune))
    assert tune.bars[-1].closing is BarLine.FINAL
    assert all(p.place.line >= 6 for p in tune.problems)


def test_start_repeat_without_an_end_is_closed_and_told() -> None:
    tune = read("A4|:B4|c4|]")
    assert any("without an end" in text for text in repairs(tune))
    assert tune.bars[-1].repeat_close == 2


def test_tie_between_two_pitches_is_a_slur() -> None:
    tune = read("G3-A|")
    first, second = tune.bars[0].notes
    assert not first.tied
    assert (first.slurs_open, second.slurs_close) == (1, 1)
    assert repairs(tune)


def test_missing_bar_line_at_the_end_of_a_line() -> None:
    """The accidental holds on, as abc2midi plays it: there is no bar line to end it."""
    tune = read("^A4|^F2 A2\nF4|F4|")
    assert [bar.length for bar in tune.bars] == [2, 2, 2, 2]
    assert [bar.notes[0].pitch.name for bar in tune.bars] == ["A#4", "F#4", "F#4", "F4"]


@pytest.mark.parametrize(
    "body", ["A2 B2|\\\n:c4:|", "A2 B2|\n:c4:|", "A2 B2||\\\n:c4:|", "A2 B2|:c4:|"]
)
def test_start_repeat_cut_by_a_line_end(body: str) -> None:
    assert played(body) == "ABCC"


def test_old_line_breaks_and_backquotes_are_no_notes() -> None:
    assert played("A2 B2!c2 d2|!e4|") == "ABCDE"
    assert read("A`B`c`d|").bars[0].notes[0].beamed


def test_old_chords_between_plus_signs() -> None:
    (note,) = read("+CEG+4|").bars[0].notes
    assert [p.name for p in note.pitches] == ["C4", "E4", "G4"]


def test_unknown_signs_are_told_and_passed_over() -> None:
    tune = read("A2 # B2|@c4|")
    assert "".join(n.pitch.step for n in tune.voices[0].notes) == "ABC"
    assert [p.place for p in tune.problems] == [(6, 4), (6, 9)]


def test_text_among_the_music_is_told_and_passed_over() -> None:
    tune = read("A4|B4|\nThis line says something\nc4|")
    assert played("A4|B4|\nThis line says something\nc4|") == "ABC"
    assert warnings(tune)


@pytest.mark.parametrize(
    "text",
    [
        "X:1\nT:a\nK:C\nA4|\nX:2\nT:b\nK:C\nB4|\n",
        "X:1\nT:a\n\nK:C\nA4|\n\nX:2\nT:b\n\nK:C\n\nB4|\n",
        "T:a\nK:C\nA4|\n\nT:b\nK:C\nB4|\n",
        "Some words before.\n\nX:1\nT:a\nK:C\nA4|\n\nwords\n\nX:2\nT:b\nK:C\nB4|\n\nwords",
    ],
)
def test_tunes_are_found_in_loose_books(text: str) -> None:
    tunes = read_abc(text)
    assert [t.title for t in tunes if isinstance(t, Tune)] == ["a", "b"]


def test_tune_without_a_key_is_read_in_c() -> None:
    tune = read("A4|", "X:1\nT:a\nM:2/4\nL:1/8\n")
    assert tune.key.name == "C major"
    assert any("no key" in text for text in repairs(tune))


def test_right_bars_are_not_warned_of() -> None:
    """An anacrusis and the last bar, and bars cut by repeats, balance."""
    for body in ("A|B4|c3:|", "A|:B4|c3A:|", "A|B4|c3:|:d|e4|f3:|", "|:A|B4|c3||d|e4|f3:|"):
        assert not warnings(read(body)), body


@pytest.mark.parametrize(
    ("body", "message"),
    [
        ("A4|B3|c4|d4|", "bar 2 is 3/8 long and should be 4/8"),
        ("A4|B5|c4|d4|", "bar 2 is 5/8 long and should be 4/8"),
        ("A|B4|c2|]", "bar 2 is 2/8 long and should be 4/8"),
        ("A4|B3/|c4|d4|", "bar 2 is 3/16 long and should be 4/8"),
    ],
)
def test_wrong_bars_are_warned_of_with_their_number(body: str, message: str) -> None:
    tune = read(body, HEAD.replace("M:2/4", "M:4/8"))
    assert warnings(tune) == [message]
    assert tune.problems[0].bar == 2


@pytest.mark.parametrize(
    ("body", "numbers"),
    [
        ("A|B4|c3|]", [0, 1, 2]),
        ("A4|B4|", [1, 2]),
        ("A|B4|c3:|:d|e4|f3:|", [0, 1, 2, 2, 3, 4]),
        ("|:A4|1 B4:|2 c4|]", [1, 2, 3]),
        ("A|:B4|1 c3A:|2 c4|]", [0, 1, 2, 3]),
        ("A4|B2[1 c2:|[2 d2|]", [1, 2, 2, 3]),
    ],
)
def test_bar_numbers(body: str, numbers: list[int]) -> None:
    assert [bar.number for bar in read(body).bars] == numbers


def test_error_shows_line_column_caret_and_advice() -> None:
    error = refused("X:7\nT:Broken\nK:G\nAB [CEG A2|\n")
    assert error.place == (4, 4)
    lines = str(error).splitlines()
    assert lines[0] == "book.abc, line 4, column 4: a chord that is not closed."
    assert lines[1] == "    AB [CEG A2|"
    assert lines[2] == "       ^"
    assert lines[3].startswith("Write ]")


@pytest.mark.parametrize(
    "text",
    [
        "X:1\nT:a\nK:Q\nA|\n",
        "X:1\nT:a\nM:4/0\nK:C\nA|\n",
        "X:1\nT:a\nL:x\nK:C\nA|\n",
        "X:1\nT:a\nK:C\n",
        "X:1\nT:a\nK:C\nz4|\n",
        "X:1\nT:a\nK:C\nA0|\n",
        "X:1\nT:a\nK:C\nA/0|\n",
        "X:1\nT:a\nK:C\n{abc A|\n",
        'X:1\nT:a\nK:C\n"Am A|\n',
        "X:1\nT:a\nK:C\n(99abc|\n",
        "X:1\nT:a\nK:C\nA,,,,,,,,,|\n",
        "X:1\nT:a\nK:C\nAB|[K:X]cd|\n",
    ],
)
def test_what_has_no_sensible_reading_is_refused(text: str) -> None:
    error = refused(text)
    assert "^" in str(error) or not error.line_text
    assert error.place.line <= text.count("\n")


def test_refused_tune_has_its_number_and_title() -> None:
    (tune,) = read_abc("X:12\nT:The Broken Reed\nK:Q\nA|\n")
    assert isinstance(tune, Refused)
    assert (tune.number, tune.title) == ("12", "The Broken Reed")


def test_books_are_read_as_a_stream() -> None:
    """The first tune comes before the second is looked at."""
    from reedwright.tune.abc import read_tunebook

    def lines() -> object:
        yield "X:1\n"
        yield "T:a\n"
        yield "K:C\n"
        yield "A4|\n"
        yield "\n"
        yield "X:2\n"
        raise AssertionError("read too far")

    first = next(read_tunebook(lines()))  # type: ignore[arg-type]
    assert isinstance(first, Tune)
