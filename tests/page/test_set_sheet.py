"""The set sheet says what a player needs on the stand, and no page is turned inside a set."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

from reedwright.harp.making import make_harp
from reedwright.page.opening import opening
from reedwright.page.setsheet.sheet import set_sheet_pdf
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tab.sets.model import Evening, SetEntry, TuneSet
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes
from reedwright.tune.refused import Refused

EXAMPLES = Path(__file__).parents[2] / "examples" / "tunes.abc"
PLAYER = load_profile("player")
G, D = make_harp("G"), make_harp("D")


def tunes() -> list[Tune]:
    return [tune for tune in read_tunes(EXAMPLES) if not isinstance(tune, Refused)]


def evening(sets: int) -> Evening:
    """Sets of three tunes, the middle one on another harp."""
    known = tunes()
    found = []
    for number in range(sets):
        entries = [
            SetEntry(
                replace(known[(3 * number + k) % 7], titles=(f"Tune {number + 1}-{k + 1}",)),
                (G, D, G)[k],
            )
            for k in range(3)
        ]
        found.append(TuneSet(f"Set {number + 1}", tuple(entries)))
    return Evening("An evening", tuple(found))


def pages(pdf: bytes) -> list[str]:
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]


@pytest.mark.parametrize("paper", ["a4", "letter", "a5"])
def test_no_set_is_broken_over_pages(paper: str) -> None:
    texts = pages(set_sheet_pdf(evening(5), PLAYER, paper))
    for number in range(1, 6):
        on = {
            page
            for page, text in enumerate(texts)
            for tune in range(1, 4)
            if f"Tune {number}-{tune}" in text
        }
        assert len(on) == 1, f"set {number} on {paper}"
    found = re.findall(r"Tune \d-\d", "\n".join(texts))
    assert found == [f"Tune {s}-{t}" for s in range(1, 6) for t in range(1, 4)]


@pytest.mark.parametrize(("number", "on"), [(5, [0, 5]), (8, [3, 5])])
def test_a_set_too_long_for_a_page_goes_over_it_and_not_off_it(number: int, on: list[int]) -> None:
    """Five tunes fit a page of A5 when set smaller; of eight the sheet shows each, on the paper."""
    one, *_ = known = tunes()
    entries = [SetEntry(replace(known[k % 7], titles=(f"Tune {k}",)), G) for k in range(number)]
    short = TuneSet("Short", (SetEntry(one, G),))
    pdf = set_sheet_pdf(Evening("Long", (short, TuneSet("Long", tuple(entries)))), PLAYER, "a5")
    assert [len(re.findall(r"Tune \d", text)) for text in pages(pdf)] == on
    heights: list[float] = []
    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        page.extract_text(
            visitor_text=lambda text, cm, tm, *_: (
                heights.append(tm[5] * cm[3] + cm[5]) if text.strip() else None
            )
        )
    assert min(heights) > 20  # points above the lower edge


def test_a_change_of_harp_is_said_where_there_is_one() -> None:
    text = "\n".join(pages(set_sheet_pdf(evening(2), PLAYER)))
    changes = re.findall(r"change to ([A-G]) harp", text)
    assert changes == ["D", "G", "D", "G"]  # the second set begins on the harp that is held


def test_harps_are_numbered_as_they_are_first_taken_up() -> None:
    first = pages(set_sheet_pdf(evening(1), PLAYER))[0]
    assert re.search(r"1\s*G harp\s*2 tunes\s*2\s*D harp\s*1 tune", first), first


def test_the_sheet_is_tagged_says_its_music_in_words_and_never_differs() -> None:
    pdf = set_sheet_pdf(evening(1), PLAYER)
    assert pdf == set_sheet_pdf(evening(1), PLAYER)
    root = pypdf.PdfReader(io.BytesIO(pdf)).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    said = alternatives(root["/StructTreeRoot"])
    assert len(said) == 3
    assert all(re.search(r"first 2 bars of Tune 1-\d: \d", words) for words in said)


def alternatives(node: object) -> list[str]:
    """The text alternatives in a structure tree, in order."""
    if isinstance(node, pypdf.generic.IndirectObject):
        node = node.get_object()
    if isinstance(node, list):
        return [words for each in node for words in alternatives(each)]
    if not isinstance(node, dict):
        return []
    own = [str(node["/Alt"])] if "/Alt" in node else []
    return own + (alternatives(node["/K"]) if "/K" in node else [])


@pytest.mark.parametrize("width", [60.0, 90.0, 150.0])
def test_an_opening_keeps_to_its_width(width: float) -> None:
    for tune in tunes():
        drawn = opening(arrange(tune, G, PLAYER), width_mm=width)
        assert drawn.width <= width + 0.01


def test_an_opening_has_the_anacrusis_and_the_bars_asked_for_and_no_more() -> None:
    (tune,) = read_abc("X:1\nT:t\nM:4/4\nL:1/4\nK:G\nD|GABc|dBGB|AGFA|G4|]\n")
    assert not isinstance(tune, Refused)
    words = opening(arrange(tune, G, PLAYER), bars=2, width_mm=200).words
    said = [part.split()[0] for part in words.split(": ", 1)[1].split(", ")]
    assert len(said) == 1 + 4 + 4
    # On the G harp by the printed layout of the tuning: D4 3 blow... G4 4 blow, A4 4 draw.
    assert words.split(": ", 1)[1].startswith(("3 blow, 4 blow, 4 draw", "2 draw, 4 blow, 4 draw"))
    one = opening(arrange(tune, G, PLAYER), bars=1, width_mm=200)
    assert one.words.count(",") == 4 and one.whole


def test_a_beginning_too_wide_is_set_smaller_then_shortened() -> None:
    (tune,) = read_abc(
        "X:1\nT:t\nM:4/4\nL:1/16\nK:G\n" + "GABcdBAG" * 2 + "|" + "gfedcBAG" * 2 + "|\n"
    )
    assert not isinstance(tune, Refused)
    wide, narrow = (opening(arrange(tune, G, PLAYER), width_mm=mm) for mm in (250.0, 70.0))
    assert wide.whole and not narrow.whole
    assert "first bar of" in narrow.words
