"""Tab for the terminal: aligned, nothing left out, no line too wide."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.sound.timing import plan
from reedwright.tab.arrange import arrange
from reedwright.tab.notation import tab_rows
from reedwright.tab.text import tab_text
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

BOOK = Path(__file__).parents[2] / "examples" / "tunes.abc"


def arranged(body: str, harp: str = "C", player: str = "player", **moved: int):
    (tune,) = read_abc(f"X:1\nT:The Test\nR:reel\nM:4/4\nL:1/8\nK:C\n{body}\n")
    assert isinstance(tune, Tune), tune
    return arrange(tune, make_harp(harp), load_profile(player), **moved)


def music(text: str) -> list[str]:
    return text.split("\n\n")[1].splitlines()


def test_names_stand_above_their_tab_with_repeats_and_endings() -> None:
    found = arranged("|:cdef {a}g4|1 c8:|2 c4z4|]")
    assert music(tab_text(found, "arrows", 80)) == [
        "   1                    2 [1    3 [2",
        "|: C5 D5 E5 F5 {C6}G5 | C5   :| C5 · |]",
        "|: 4↑ 4↓ 5↑ 5↓ {7↑}6↑ | 4↑   :| 4↑   |]",
    ]


def test_rows_of_blow_and_draw() -> None:
    found = arranged("cdef {a}g4|")
    assert music(tab_text(found, "rows", 80)) == [
        "       1",
        "     | C5 D5 E5 F5 {C6}G5 |]",
        "blow | 4     5     {7} 6  |]",
        "draw |    4     5         |]",
    ]


def test_ornaments_that_the_harp_changes_are_told_below_the_tab() -> None:
    text = " ".join(tab_text(arranged("{a}g8|"), "arrows", 80).split())
    assert "A cannot be reached from 6 blow in one breath, so the tab has 7 blow" in text


def test_ascii_only() -> None:
    found = arranged("c_d4 _e2z|", player="all-techniques")
    text = tab_text(found, "arrows", 80, ascii_only=True)
    assert text.isascii()
    assert "4+ 4-' 4+o" in text and "5+ is 5 blow, 5- is 5 draw" in text


def test_header_names_harp_position_and_move() -> None:
    text = tab_text(arranged("cdef g4|", harp="F", octaves=-1), "signs", 80)
    assert text.splitlines()[:6] == [
        "The Test",
        "reel, C major, 4/4",
        "F harp, second position",
        "The tune is moved 1 octave down.",
        text.splitlines()[4],
        "+5 is 5 blow, -5 is 5 draw",
    ]


def test_missing_notes_are_marked_and_explained() -> None:
    text = tab_text(arranged("c2_e2 g4|", player="first-year"), "arrows", 80)
    assert "C5 Eb5 G5" in text and "4↑ ×   6↑" in text
    tail = " ".join(text.split("|]")[-1].split())
    assert "Missing: Eb5, bar 1 beat 2." in tail
    assert "With an overblow it is hole 4 blow." in tail


def test_tied_notes_are_held_not_tabbed_again() -> None:
    text = tab_text(arranged("c8-|c4d4|"), "arrows", 80)
    assert "| C5 | (C5) D5 |]" in text
    assert "| 4↑ | ~    4↓ |]" in text


@pytest.mark.parametrize("width", [30, 50, 80, 132])
@pytest.mark.parametrize("style", ["arrows", "signs", "rows"])
def test_lines_keep_to_the_width_and_bar_lines_are_aligned(style: str, width: int) -> None:
    for tune in read_abc(BOOK.read_text(encoding="utf-8")):
        assert isinstance(tune, Tune)
        found = arrange(tune, make_harp("D"), load_profile("player"))
        text = tab_text(found, style, width)
        rows = 3 if style == "rows" else 2
        for block in text.split("\n\n")[1:]:
            lines = [line for line in block.splitlines() if "|" in line]
            if not lines:
                continue
            assert len(lines) == rows
            places = [[i for i, sign in enumerate(line) if sign == "|"] for line in lines]
            assert all(each == places[0] for each in places)
            bars = len(re.findall(r"\|+", lines[0])) - 1
            assert len(lines[0]) <= width or bars == 1
        shown = text.count("×")
        assert shown == len(found.missing)


def test_a_grace_note_in_a_tie_sounds_the_note_anew_in_tab_and_sound() -> None:
    (tune,) = read_abc("X:1\nM:4/4\nL:1/4\nK:G\nG A B2-|{d}B A G2|]\n")
    assert isinstance(tune, Tune)
    arrangement = arrange(tune, make_harp("G"), load_profile("player"))
    texts = tab_rows(arrangement)[0].texts
    assert texts["n3"] == texts["n4"] == "5↑"
    assert texts["n4g1"] == "6↑"
    sounded = [note.id for note in plan(arrangement).notes]
    assert sounded == ["n1", "n2", "n3", "n4g1", "n4", "n5", "n6"]
