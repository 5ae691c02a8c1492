"""What a book says before its tunes: the signs that occur in it, and the harps that it needs."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reedwright.page.book.format import format_of
from reedwright.page.book.guide import harps_needed, ornament, tab_guide
from reedwright.page.book.model import BookLook, TuneEntry

PLAIN = TuneEntry(
    name="a", title="A", also=(), type="reel", key="D major", composer="", harp="D harp",
    position=1, grade=2.0, begins="1", rights="", address="",
    page={"signs": [], "harp_chart": "<svg/>"}, height=1.0,
)  # fmt: skip
SIGNS = [
    {"sign": "6↑", "text": "hole 6 blow"},
    {"sign": "°", "text": "overblow"},
    {"sign": "′", "text": "bent, a semitone for each mark"},
    {"sign": "", "text": "small figures for grace notes"},
    {"sign": "", "text": "a comma above the staff for a breath"},
]


def guide(tunes: list[TuneEntry], **look: str) -> dict[str, object]:
    chosen = BookLook(**look)  # type: ignore[arg-type]
    return tab_guide(tunes, format_of(chosen), chosen)


@pytest.mark.parametrize(
    ("style", "hole", "word"),
    [
        ("arrows", ["4↑", "4↓"], "arrow up means blow"),
        ("signs", ["+4", "−4"], "plus"),
        ("rows", [], "upper"),
    ],
)
def test_breath_is_explained_as_the_tab_shows_it(style: str, hole: list[str], word: str) -> None:
    told = guide([PLAIN], tab_style=style)
    assert [sign["sign"] for sign in told["signs"]] == hole  # type: ignore[attr-defined]
    assert word in " ".join(told["words"])  # type: ignore[arg-type]


def test_only_signs_that_occur_are_explained_each_once() -> None:
    used = replace(PLAIN, page={**PLAIN.page, "signs": SIGNS})
    told = guide([PLAIN, used, used])
    assert [sign["sign"] for sign in told["signs"]] == ["4↑", "4↓", "′", "°"]  # type: ignore[attr-defined]
    words = " ".join(told["words"])  # type: ignore[arg-type]
    assert "grace notes" in words
    assert "breathe" in words
    assert "grace notes" not in " ".join(guide([PLAIN])["words"])  # type: ignore[arg-type]


def test_the_example_has_the_bend_that_it_is_there_to_show() -> None:
    """The A of the low octave is hole 3 draw, bent a whole tone, on a harp in C."""
    svg = guide([PLAIN])["example"]["svg"]  # type: ignore[index]
    assert ">3↓′′<" in svg
    assert "×" not in svg


def test_grades_are_told_by_their_whole_scale() -> None:
    facts = {fact["label"]: fact["text"] for fact in guide([PLAIN])["facts"]}  # type: ignore[attr-defined]
    assert facts["Grade"].endswith("from 1, easy, to 10, hard.")


def test_harps_are_counted_the_most_needed_first() -> None:
    tunes = [
        replace(PLAIN, harp="G harp", position=2),
        replace(PLAIN, harp="D harp", position=3),
        replace(PLAIN, harp="D harp", position=1),
        replace(PLAIN, harp="D harp", position=0),  # without a key
    ]
    assert [(h["name"], h["tunes"], h["positions"]) for h in harps_needed(tunes)] == [
        ("D harp", 3, [1, 3]),
        ("G harp", 1, [2]),
    ]


def test_the_ornament_is_ten_holes_with_reeds_that_grow_shorter() -> None:
    for slots in ornament().values():
        lengths = [slot["length"] for slot in slots]  # type: ignore[attr-defined]
        assert len(lengths) == 10
        assert lengths == sorted(lengths, reverse=True)
