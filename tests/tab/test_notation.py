"""The signs of tab, in all three styles, and the rows under the notes."""

import pytest
from handmade_arrangements import by_hand, sounding_of

from reedwright.harp.making import make_harp
from reedwright.tab.notation import MISSING, TabStyle, tab_rows, tab_sign

C = make_harp("C")
SLIDE = make_harp("C", "slide-solo-12")


@pytest.mark.parametrize(
    ("note", "arrows", "signs", "rows"),
    # Common practice, no source: arrow or sign for the breath, a prime for each semitone of a
    # bend, a small circle for overblows and overdraws.
    [
        ("6b", "6↑", "+6", "6"),
        ("6d", "6↓", "-6", "6"),
        ("10b", "10↑", "+10", "10"),
        ("3d'", "3↓'", "-3'", "3'"),
        ("3d'''", "3↓'''", "-3'''", "3'''"),
        ("10b''", "10↑''", "+10''", "10''"),
        ("6b°", "6↑°", "+6°", "6°"),
        ("7d°", "7↓°", "-7°", "7°"),
    ],
)
def test_signs_of_a_note(note: str, arrows: str, signs: str, rows: str) -> None:
    sounding = sounding_of(note, C)
    assert tab_sign(sounding, TabStyle.ARROWS) == arrows
    assert tab_sign(sounding, TabStyle.SIGNS) == signs
    assert tab_sign(sounding, TabStyle.ROWS) == rows
    assert tab_sign(sounding, "signs") == signs


def test_the_slide_has_a_sign() -> None:
    assert tab_sign(sounding_of("5d<", SLIDE)) == "5↓<"


@pytest.mark.parametrize("harp", [C, make_harp("C", valves="half"), SLIDE])
def test_no_two_notes_of_a_harp_have_one_sign(harp: object) -> None:
    soundings = (C if harp is C else harp).soundings  # type: ignore[attr-defined]
    for style in (TabStyle.ARROWS, TabStyle.SIGNS):
        assert len({tab_sign(s, style) for s in soundings}) == len(soundings)


def test_one_row_holds_notes_and_grace_notes() -> None:
    (row,) = tab_rows(by_hand("{7b}6b 6d | 3d'' z 6b°"), TabStyle.SIGNS)
    assert row.name == "tab"
    assert row.texts == {"g1": "+7", "n1": "+6", "n2": "-6", "n3": "-3''", "n4": "+6°"}


def test_two_rows_part_the_breaths() -> None:
    blow, draw = tab_rows(by_hand("{7b}6b 6d | 3d''"), TabStyle.ROWS)
    assert (blow.name, blow.texts) == ("blow", {"g1": "7", "n1": "6"})
    assert (draw.name, draw.texts) == ("draw", {"n2": "6", "n3": "3''"})


def test_a_tied_note_is_written_once_even_across_the_bar() -> None:
    (row,) = tab_rows(by_hand("6b- 6b- | 6b 6d"))
    assert set(row.texts) == {"n1", "n4"}


def test_a_repeated_note_is_written_again() -> None:
    (row,) = tab_rows(by_hand("6b 6b | 6b- z 6b | 6b- 6d"))
    assert set(row.texts) == {"n1", "n2", "n3", "n4", "n5", "n6"}


def test_a_tie_reaches_into_every_ending() -> None:
    (row,) = tab_rows(by_hand("|: 6b 5b- |[1 5b 4b :|[2 5b 4d"))
    assert row.texts == {"n1": "6↑", "n2": "5↑", "n4": "4↑", "n6": "4↓"}


@pytest.mark.parametrize("style", list(TabStyle))
def test_a_note_without_a_hole_is_never_left_out(style: TabStyle) -> None:
    rows = tab_rows(by_hand("6b ?C#3 {?C#3}6d"), style)
    texts = {id_: text for row in rows for id_, text in row.texts.items()}
    assert set(texts) == {"n1", "n2", "g1", "n3"}
    assert texts["n2"] == texts["g1"] == MISSING
