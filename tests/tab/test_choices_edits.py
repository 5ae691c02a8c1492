"""Small edits of a tune lose no choice: each finds a note of its pitch, or is told and kept.

Random tunes of one to three parts, random choices on their notes, random edits (a note put
in, taken out or changed, a bar put in or taken out, another title or number, an octave up, a
part label), the file written in between; and back to the tune as it was.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import NamedTuple

import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath
from reedwright.tab.choices import (
    Breathe,
    Choice,
    ChoiceBook,
    Never,
    Ornamented,
    Play,
    TuneChoices,
    Way,
    note_places,
    put_aside,
    resolve,
)
from reedwright.tab.choices.reading import parsed_choices
from reedwright.tab.choices.writing import written_choices
from reedwright.tab.ornaments.model import OrnamentKind
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.transpose import transposed

HARP = make_harp("C")

NOTES = ["C", "E", "G", "A", "c", "^F", "g"]  # few, so that there are many alike
bars = st.lists(st.sampled_from(NOTES), min_size=1, max_size=5)
parts = st.lists(bars, min_size=2, max_size=4)


class Written(NamedTuple):
    """A tune to be edited: parts of bars of quavers."""

    title: str
    number: int
    parts: tuple[tuple[tuple[str, ...], ...], ...]
    label: str = ""
    octave: int = 0

    @property
    def tune(self) -> Tune:
        body = "".join(
            "|:" + "|".join("".join(bar) or "z" for bar in part) + ":|" for part in self.parts
        )
        label = f"P:{self.label}\n" if self.label else ""
        (tune,) = read_abc(f"X:{self.number}\nT:{self.title}\nM:none\nL:1/8\nK:C\n{label}{body}\n")
        assert isinstance(tune, Tune)
        return transposed(tune, octaves=self.octave)


def frozen(parts) -> tuple:
    return tuple(tuple(tuple(bar) for bar in part) for part in parts)


written = st.builds(
    Written,
    st.sampled_from(["The Reel", "A Jig"]),
    st.integers(1, 9),
    st.lists(parts, min_size=1, max_size=3).map(frozen),
    st.just(""),
    st.just(0),
)
KINDS = (
    "insert",
    "delete",
    "change",
    "add bar",
    "take bar",
    "rename",
    "renumber",
    "octave",
    "label",
)


@st.composite
def edited(draw, before: Written) -> Written:
    kind = draw(st.sampled_from(KINDS))
    event(kind)
    match kind:
        case "rename":
            return before._replace(title="Quite Another Name")
        case "renumber":
            return before._replace(number=77)
        case "octave":
            return before._replace(octave=1)
        case "label":
            return before._replace(label=draw(st.sampled_from("ABZ")))
    parts = [[list(bar) for bar in part] for part in before.parts]
    part = draw(st.sampled_from(parts))
    if kind == "add bar":
        part.insert(draw(st.integers(0, len(part))), draw(bars))
    elif kind == "take bar":
        del part[draw(st.integers(0, len(part) - 1))]
        part = part or [["C"], ["C"]]
    else:
        bar = draw(st.sampled_from(part))
        at = draw(st.integers(0, max(0, len(bar) - 1)))
        if kind == "insert":
            bar.insert(at, draw(st.sampled_from(NOTES)))
        elif bar and kind == "delete":
            del bar[at]
        elif bar:
            bar[at] = draw(st.sampled_from(NOTES))
    if not any(bar for part in parts for bar in part):
        return before  # a tune without notes is none
    return before._replace(parts=frozen(part for part in parts if part))


SAYS = (
    Play(Way(4, Breath.BLOW)),
    Never((Way(2, Breath.DRAW),)),
    Ornamented(OrnamentKind.CUT),
    Ornamented(None),
    Breathe(True),
)


@st.composite
def cases(draw) -> tuple[Written, Written, TuneChoices]:
    before = draw(written)
    after = before
    for _ in range(draw(st.integers(1, 3))):
        after = draw(edited(after))
    choices = []
    taken = set()
    for note in note_places(before.tune):
        says = draw(st.sampled_from([None, None, *SAYS]))
        if says is not None and (note.id, type(says)) not in taken:
            taken.add((note.id, type(says)))
            between = note.place.between if draw(st.booleans()) else ""
            choices.append(Choice(note.place._replace(between=between), says))
    return before, after, TuneChoices(before.title, str(before.number), choices=tuple(choices))


@pytest.mark.no_cover
@settings(max_examples=120, deadline=None)
@given(cases())
def test_every_choice_finds_a_note_of_its_pitch_or_is_told_and_kept(case) -> None:
    before, after, choices = case
    book = parsed_choices(written_choices(ChoiceBook().changed(choices)))
    mine = book.of(after.tune)
    if mine.table is None:
        # Another title, or another number too, and most choices fail: the table stays there.
        assert after.title != before.title
        mine = book.tunes[0]
    every = Counter(mine.choices)
    resolved = resolve(mine, after.tune, HARP)
    assert Counter(each.choice for each in (*resolved.found, *resolved.aside)) == every
    pitches = {note.id: note for note in note_places(after.tune)}
    for each in resolved.found:
        note = pitches[each.note.id]
        assert note.place.pitch == each.choice.place.pitch
    # One note never has two choices of a kind.
    kinds = Counter((each.note.id, type(each.choice.says)) for each in resolved.found)
    assert set(kinds.values()) <= {1}
    # Each that found no note is told by name.
    for aside in resolved.aside:
        words = aside.choice.place.words[1:]
        assert any(words in notice and aside.reason in notice for notice in resolved.notices)
    # Written and read again, all are there.
    text = written_choices(book.changed(put_aside(mine, resolved)))
    again = parsed_choices(text).tunes[0]
    kept = Counter([*again.choices, *(aside.choice for aside in again.aside)])
    assert kept == every
    # The edit undone, every choice is back on the note that it was made for.
    original = {
        (note.place.part, note.place.bar, note.place.beat): note.id
        for note in note_places(before.tune)
    }
    back = resolve(again, before.tune, HARP)
    assert back.aside == ()
    for each in back.found:
        place = each.choice.place
        assert each.note.id == original[place.part, place.bar, place.beat]
    assert put_aside(again, back).aside == ()


@settings(max_examples=60, deadline=None)
@given(written, st.integers(0, 2))
def test_a_bar_added_in_one_part_moves_no_choice_of_another(before: Written, which: int) -> None:
    at = which % len(before.parts)
    parts = [list(part) for part in before.parts]
    parts[at].insert(0, ("c", "c"))
    after = before._replace(parts=frozen(parts))
    choices = TuneChoices(
        choices=tuple(Choice(note.place, Breathe(True)) for note in note_places(before.tune))
    )
    places = {note.id: note.place for note in note_places(after.tune)}
    for each in resolve(choices, after.tune, HARP).found:
        if each.choice.place.part != chr(ord("A") + at):
            assert places[each.note.id][:4] == each.choice.place[:4]


def test_renumbering_and_reordering_a_book_loses_nothing() -> None:
    names = ["The Reel", "A Jig", "The Air"]
    tunes = [
        Written(name, number, ((("C", "E", "G"), ("c", "A")), (("g", "c"), ("A", "G"))))
        for number, name in enumerate(names, 1)
    ]
    book = ChoiceBook()
    for each in tunes:
        pin = Choice(note_places(each.tune)[0].place, Breathe(True))
        book = book.changed(TuneChoices(each.title, str(each.number), harp="C", choices=(pin,)))
    for shift in range(3):
        moved = [each._replace(number=1 + (each.number + shift) % 3) for each in reversed(tunes)]
        in_book = [(str(each.number), each.title) for each in moved]
        for each in moved:
            mine = book.of(each.tune, in_book)
            assert mine.title == each.title
            mine = replace(mine, number=str(each.number))
            book = parsed_choices(written_choices(book.changed(mine)))
    assert sorted(each.title for each in book.tunes) == sorted(names)
    assert all(len(each.choices) == 1 for each in book.tunes)
