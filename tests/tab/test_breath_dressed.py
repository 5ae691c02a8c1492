"""Breath on tunes as the arranger dresses them: ornaments move no air and are never parted."""

from dataclasses import replace
from pathlib import Path

import pytest

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.player.lungs import Lungs
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath.account import breath_account
from reedwright.tab.breath.airline import make_airline
from reedwright.tab.breath.places import Places, split_base
from reedwright.tab.breath.plan import plan_breaths
from reedwright.tab.ornaments.model import Amount
from reedwright.tab.wishes import Wishes
from reedwright.tune.abc import read_abc

EXAMPLES = Path(__file__).parents[2] / "examples" / "tunes.abc"
TUNES = read_abc(EXAMPLES.read_text())
NUMBERS = range(len(TUNES))


def dressed(number: int, amount: Amount = Amount.FULL) -> Arrangement:
    wishes = Wishes(amount=amount)
    return arrange(TUNES[number], make_harp("G"), load_profile("player"), wishes=wishes)


@pytest.mark.parametrize("number", NUMBERS)
def test_ornaments_move_no_air(number: int) -> None:
    tune = dressed(number)
    plain = replace(tune, tune=tune.plain, ornaments=(), undressed=None)
    with_them, without = make_airline(tune), make_airline(plain)
    levels = {
        (round(s.onset + s.length, 6)): end
        for s, end in zip(with_them.sounds, breath_account(tune, breaths=()).ends, strict=True)
    }
    assert len(levels) == len(with_them.sounds)
    for sound, end in zip(without.sounds, breath_account(plain, breaths=()).ends, strict=True):
        assert levels[round(sound.onset + sound.length, 6)] == pytest.approx(end)


@pytest.mark.parametrize("number", NUMBERS)
def test_no_place_lies_inside_of_a_note_that_is_split(number: int) -> None:
    tune = dressed(number)
    notes = {note.id: note for bar in tune.tune.bars for note in bar.notes}
    last = {split_base(id_, notes): id_ for id_ in notes}
    places = Places(make_airline(tune), tune.tune.bars)
    offered = [*places.after_notes(), *places.through_notes()]
    assert offered
    for place in offered:
        assert last[split_base(place.note_id, notes)] == place.note_id
        if place.dropped:
            assert split_base(place.note_id, notes) not in {o.note_id for o in tune.ornaments}


def test_rolls_of_the_demo_tunes_are_really_split() -> None:
    ids = [note.id for bar in dressed(0).tune.bars for note in bar.notes]
    assert any(split_base(id_, dict.fromkeys(ids)) != id_ for id_ in ids)


def test_a_wish_for_a_note_that_a_roll_splits_is_for_the_end_of_the_roll() -> None:
    tune = dressed(0)
    ids = {note.id: note for bar in tune.tune.bars for note in bar.notes}
    split = next(id_ for id_ in ids if split_base(id_, ids) != id_)
    base = split_base(split, ids)
    last = [id_ for id_ in ids if split_base(id_, ids) == base][-1]
    plan = plan_breaths(tune, always=frozenset({base}))
    assert last in plan.note_ids and base not in plan.note_ids
    tight = replace(tune.player, lungs=Lungs(comfortable_litres=0.1, most_litres=0.2))
    free = plan_breaths(replace(tune, player=tight), never=frozenset({base}))
    assert free.marks and last not in free.note_ids
