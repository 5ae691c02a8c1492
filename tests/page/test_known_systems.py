"""Systems that were drawn before: taken again they are what drawing them anew would give.

Verovio itself judges: all is drawn anew beside it. Ids that it makes up are left out of account.
"""

from __future__ import annotations

import random
import re
from fractions import Fraction
from typing import Any

import pytest

from reedwright.harp.making import parse_harp
from reedwright.page.engraving import Engraver, Look
from reedwright.page.knownsystems import Drawn
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tab.notation import tab_rows
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

LOOK = Look(6.4, 10.7)
# Made up for the tests: slurs, ties, endings, a change of key, a hairpin's words, grace notes.
REACHING = """X:1
T:All that Reaches
M:4/4
L:1/8
K:G
|:(G2BG dGBG|c2ec) BGAF|G2BG dGB-d|1 cAFA G4:|2 cAFA G3-G|
|:"^slower"g2fg edBd|{f}e2de gedB|[K:D]d2fd A2F2|(E2F2 G2A2|B2c2) d4-|d2AF D4:|
|:fdad fdad|(gecA) G2E2|F2A2 d2f2|e2c2 d4|1 dAFA D4:|2 d2A2 d4|]
"""
_MADE_UP = re.compile(r'(\bid="|href="#(?:\w{4}-)?|class="\w+ )\w+"|(\bid="\w{4}-)\w+"|( id-)\w+')


def _plain(svg: str) -> str:
    return _MADE_UP.sub(lambda match: f'{match[1] or match[2] or match[3]}"', svg)


def _engraver(text: str, harp: str = "G", width: float = 120.0) -> Engraver | None:
    (tune,) = read_abc(text)
    if not isinstance(tune, Tune):
        return None
    arrangement = arrange(tune, parse_harp(harp), load_profile("player"))
    return Engraver(arrangement.tune, tab_rows(arrangement), 0, width, Fraction(1))


@pytest.mark.no_cover
def test_what_is_taken_again_is_what_drawing_anew_gives() -> None:
    """Letters of the music changed one after another. No slurs are added: where several overlap,
    Verovio draws them now so, now so."""
    chance = random.Random(8)
    known: dict[str, Drawn] = {}
    text = REACHING
    head = text.index("K:G\n") + 4
    taken = drawn = 0
    for _ in range(40):
        at = chance.randrange(head, len(text) - 2)
        letter = chance.choice("ABcdefg2-|z^")
        edited = text[:at] + letter + text[at + (chance.random() < 0.7) :]
        engraver = _engraver(edited)
        if engraver is None:
            continue
        text = edited
        plan = engraver.plan(LOOK)
        before = len(known)
        with_known = engraver.engrave(plan, known)
        anew = engraver.engrave(plan)
        drawn += len(known) - before
        taken += len(anew) - (len(known) - before)
        assert [_plain(each.svg) for each in with_known] == [_plain(each.svg) for each in anew]
        assert [(e.width, e.height, e.bars) for e in with_known] == [
            (e.width, e.height, e.bars) for e in anew
        ]
    assert taken > 30
    assert drawn > 30


def test_a_changed_note_has_one_system_drawn_anew() -> None:
    known: dict[str, Drawn] = {}
    first = _engraver(REACHING)
    second = _engraver(REACHING.replace("A2F2|", "A2G2|"))
    assert first is not None and second is not None
    systems = first.engrave(first.plan(LOOK), known)
    many = len(known)
    assert many == len(systems) > 4
    second.engrave(first.plan(LOOK), known)
    assert len(known) - many <= 2  # beside an edge the neighbour's system is drawn anew, too


@pytest.mark.parametrize("other", [{"harp": "G:solo"}, {"width": 121.0}, {"text": "K:Gmix"}])
def test_other_tab_another_width_and_another_key_are_drawn_anew(other: dict[str, Any]) -> None:
    known: dict[str, Drawn] = {}
    first = _engraver(REACHING)
    text = REACHING.replace("K:G\n", f"{other.pop('text')}\n") if "text" in other else REACHING
    second = _engraver(text, **other)
    assert first is not None and second is not None
    plan = first.plan(LOOK)
    first.engrave(plan, known)
    with_known = second.engrave(plan, known)
    anew = second.engrave(plan)
    assert [_plain(each.svg) for each in with_known] == [_plain(each.svg) for each in anew]


# The last two bars say nothing of the key that changes before them: what is drawn of it does.
KEYS = """X:1
T:What Holds
M:4/4
L:1/8
K:C
C2E2 C2E2|[K:%s]E2A2 E2A2|A4 E4|E4 A4|A2A2 E2E2|E8|]
"""


def test_a_key_that_changed_far_before_is_drawn_anew() -> None:
    known: dict[str, Drawn] = {}
    first, second = _engraver(KEYS % "G", width=60.0), _engraver(KEYS % "D", width=60.0)
    assert first is not None and second is not None
    plan = first.plan(LOOK)
    assert plan.starts[-1] > 3  # beyond the neighbours of the bar with the key
    first.engrave(plan, known)
    with_known = second.engrave(plan, known)
    assert [_plain(each.svg) for each in with_known] == [
        _plain(each.svg) for each in second.engrave(plan)
    ]
