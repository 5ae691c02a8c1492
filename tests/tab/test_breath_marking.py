"""Breath marks in an arrangement: in its list and on its notes, and nowhere else."""

from dataclasses import replace

import pytest

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath.marking import MARK, with_breaths
from reedwright.tab.breath.model import BreathReason
from reedwright.tab.breath.plan import plan_breaths
from reedwright.tab.ornaments.model import Origin
from reedwright.tab.wishes import NO_WISHES, Wishes
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

DRAWN = "X:1\nT:t\nM:4/4\nL:1/8\nQ:1/4=60\nK:C\n"


def arranged(music: str) -> Arrangement:
    """Without breaths but those of the source."""
    (tune,) = read_abc(f"{DRAWN}{music}\n")
    assert isinstance(tune, Tune)
    done = arrange(tune, make_harp("C"), load_profile("player"))
    return replace(done, tune=done.plain, breaths=())


def signs(arrangement: Arrangement) -> set[str]:
    return {n.id for bar in arrangement.tune.bars for n in bar.notes if MARK in n.decorations}


FULL = "d8|B8|f8|d8|d8|B8|f8|d8|]"


def test_the_marks_stand_on_their_notes_and_the_plain_tune_has_none() -> None:
    marked = with_breaths(arranged(FULL), NO_WISHES)
    assert marked.breaths and signs(marked) == {mark.note_id for mark in marked.breaths}
    plain = {n.id for bar in marked.plain.bars for n in bar.notes if MARK in n.decorations}
    assert plain == set()
    assert [m.note_id for m in marked.breaths] == [
        m.note_id for m in plan_breaths(arranged(FULL)).marks
    ]


def test_wishes_are_kept() -> None:
    tune = arranged(FULL)
    ids = [note.id for bar in tune.tune.bars for note in bar.notes]
    proposed = {mark.note_id for mark in with_breaths(tune, NO_WISHES).breaths}
    other = max(proposed - {ids[0]})
    marked = with_breaths(tune, Wishes(breaths={ids[0]: True, other: False}))
    assert ids[0] in signs(marked) and other not in signs(marked)
    by_id = {mark.note_id: mark for mark in marked.breaths}
    assert by_id[ids[0]].origin is Origin.TEACHER
    assert by_id[ids[0]].reason is BreathReason.TEACHER


def test_a_mark_of_the_source_is_kept_and_can_be_taken_away() -> None:
    tune = arranged("c4 !breath!d4|c4 d4|]")
    (written,) = signs(tune)
    kept = with_breaths(tune, NO_WISHES)
    assert signs(kept) == {written}
    assert [(m.note_id, m.origin) for m in kept.breaths] == [(written, Origin.WRITTEN)]
    gone = with_breaths(tune, Wishes(breaths={written: False}))
    assert signs(gone) == set() and gone.breaths == ()


def test_a_tune_that_needs_none_stays_the_very_same() -> None:
    tune = arranged("c4 d4|c4 d4|]")
    marked = with_breaths(tune, NO_WISHES)
    assert marked.tune is tune.tune and marked.breaths == ()


@pytest.mark.parametrize("music", [FULL, "|:d8|B8|f8|d8:|"])
def test_nothing_but_the_sign_is_changed(music: str) -> None:
    tune = arranged(music)
    marked = with_breaths(tune, NO_WISHES)
    for one, two in zip(tune.tune.bars, marked.tune.bars, strict=True):
        assert [replace(n, decorations=()) for n in one.notes] == [
            replace(n, decorations=()) for n in two.notes
        ]


def test_a_breath_on_a_tied_note_is_taken_at_the_end_of_the_tie() -> None:
    (tune,) = read_abc(f"{DRAWN}!breath!B4-|B4|c4|]\n")
    assert isinstance(tune, Tune)
    first, held = tune.bars[0].notes[0], tune.bars[1].notes[0]
    for wishes in (NO_WISHES, Wishes(breaths={first.id: True})):
        marked = arrange(tune, make_harp("C"), load_profile("player"), wishes=wishes)
        assert signs(marked) == {held.id} == {mark.note_id for mark in marked.breaths}
