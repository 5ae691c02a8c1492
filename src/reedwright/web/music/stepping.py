"""Steps that change a tune's choices, undone and done again in one line with its text.

Public: `keep_step`, `undo_step`, `redo_step`, `keep_facts`, `facts_of_text`,
`CHANGED`.
"""

from __future__ import annotations

from dataclasses import replace

from reedwright.errors import ReedwrightError
from reedwright.shelf.belongings.arrangements import keep_choices
from reedwright.shelf.facts.keeping import put_facts
from reedwright.shelf.facts.model import TuneFacts
from reedwright.shelf.facts.reading import HEADER
from reedwright.shelf.facts.working_out import facts_of
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import ChangedMeanwhile, Form, Item, Kind, ShelfError
from reedwright.shelf.together import revise_together, to_redo, to_undo
from reedwright.tab.choices.model import TuneChoices
from reedwright.tab.choices.reading import parsed_choices
from reedwright.tab.choices.writing import written_choices
from reedwright.web.music.opening import Looked, looked_at, read_text, usual_arrangement
from reedwright.web.music.standing import Version, version_between

CHANGED = "This tune was changed in another window meanwhile."


def keep_step(shelf: Shelf, looked: Looked, choices: TuneChoices, said: str) -> Version:
    """Keep these choices as a step made from how the tune was looked at.

    Raises `ChangedMeanwhile` where the tune or its choices have other states by now.
    """
    number = looked.item.id
    with shelf.change():
        item = shelf.item(number)
        there = usual_arrangement(shelf, number)
        _check(item, there, version_between(looked.item, looked.arrangement))
        if there is None:  # before the first choice there was none: that can be gone back to
            beginning = TuneChoices(choices.title, choices.number)
            there = keep_choices(shelf, number, beginning, "nothing chosen")
        book = parsed_choices(there.state.text)
        table = 0 if book.tunes else None
        text = written_choices(book.changed(replace(choices, table=table)))
        if text != there.state.text:
            there = revise_together(shelf, there, item, text, said)
        return version_between(item, there)


def undo_step(shelf: Shelf, number: int, made_from: Version) -> str:
    """Undo the last step of the tune or its choices; says what that was.

    Raises `ChangedMeanwhile`, `ShelfError` where there is nothing to undo, `NotOnShelf`.
    """
    with shelf.change():
        item, there = _present(shelf, number, made_from)
        step = to_undo(item, there)
        if step is None:
            raise ShelfError(f"{item.name}: there is nothing to undo.")
        keep_facts(shelf, shelf.undo(step.id))
        return step.state.said


def redo_step(shelf: Shelf, number: int, made_from: Version) -> str:
    """Do again what was undone last from here; says what it was. Raises as `undo_step`."""
    with shelf.change():
        item, there = _present(shelf, number, made_from)
        step = to_redo(shelf, item, there)
        if step is None:
            raise ShelfError(f"{item.name}: there is nothing to do again.")
        keep_facts(shelf, shelf.redo(step[0].id))
        return step[1].said


def keep_facts(shelf: Shelf, item: Item) -> None:
    """Keep what the tune is found by in its present state.

    Where the text cannot be read just now, it goes on being found by what it last was. Other tunes
    that it may be a setting of are looked for when the shelf next compares tunes: on a large shelf
    that is nothing to be waited for at every key.
    """
    if item.kind is not Kind.TUNE or item.state.form is not Form.ABC:
        return
    facts = facts_of_text(item.state.text, str(item.state.about.get(HEADER, "")), item.name)
    if facts is not None:
        put_facts(shelf, item.id, item.state.number, facts)


def facts_of_text(text: str, header: str, name: str) -> TuneFacts | None:
    """What a tune is found by; None where the text cannot be read, or is too tangled to play."""
    tune = read_text(text, header).tune
    try:
        return None if tune is None else facts_of(tune, name)
    except ReedwrightError:
        return None


def _present(shelf: Shelf, number: int, made_from: Version) -> tuple[Item, Item | None]:
    item = looked_at(shelf, number).item
    there = usual_arrangement(shelf, number)
    _check(item, there, made_from)
    return item, there


def _check(item: Item, there: Item | None, made_from: Version) -> None:
    if version_between(item, there) != made_from:
        raise ChangedMeanwhile(CHANGED)
