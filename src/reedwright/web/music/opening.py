"""A tune of the shelf with what is decided about it, also one whose text can't be read just now.

Public: `OpenTune`, `opened`, `Looked`, `looked_at`, `read_text`, `TextRead`.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass, replace
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.shelf.belongings.arrangements import USUAL, arrangements_of, choices_on
from reedwright.shelf.facts.reading import HEADER, raw_tune, tune_of, tune_of_state
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item, Kind, NotOnShelf
from reedwright.tab.choices.model import TuneChoices
from reedwright.tab.choices.reading import parsed_choices
from reedwright.tune.abc.errors import AbcError
from reedwright.tune.abc.tune import read_tune
from reedwright.tune.abc.writer import write_abc
from reedwright.tune.model import Note, Tune
from reedwright.web.music.problems import Problem, more_tunes, of_error, of_tune
from reedwright.web.remembering import Remembered

_LOG = logging.getLogger("reedwright.web")
FAULT = "This can't be read: a fault of Reedwright. The text is saved; undo leads back."


@dataclass(frozen=True, slots=True)
class OpenTune:
    """`item`: the tune on the shelf; `choices`: those of its usual arrangement."""

    item: Item
    tune: Tune
    choices: TuneChoices


def opened(shelf: Shelf, number: int) -> OpenTune:
    """Raises `NotOnShelf` where no tune has that number, `ShelfError` for one that can't be
    read."""
    with shelf.reading():
        item = _tune_item(shelf, number)
        tune = tune_of(shelf, item)
        choices = choices_on(shelf, number) or TuneChoices(tune.title, tune.number)
    return OpenTune(item, tune, choices)


class TextRead(NamedTuple):
    """`tune` is None where the text has no reading; then one of the problems is the error."""

    tune: Tune | None
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class Looked:
    """A tune as it is, readable or not.

    `text`: the ABC as it is shown; `editable`: it is what the shelf keeps, to the letter. `places`
    says, by a note's id, where it stands in that text: line and column, both from 1. `item` is the
    tune's, `arrangement` the one of its usual choices (None: nothing was chosen yet).
    """

    item: Item
    arrangement: Item | None
    text: str
    editable: bool
    tune: Tune | None
    problems: tuple[Problem, ...]
    choices: TuneChoices
    places: dict[str, tuple[int, int]]


def looked_at(shelf: Shelf, number: int) -> Looked:
    """Raises `NotOnShelf` where no tune has that number, `ChoicesError` for choices that a newer
    version wrote."""
    with shelf.reading():
        item = _tune_item(shelf, number)
        arrangement = usual_arrangement(shelf, number)
        found = _read(shelf, item)
    choices = TuneChoices(
        found.tune.title if found.tune else item.name, found.tune.number if found.tune else ""
    )
    if arrangement is not None:
        book = parsed_choices(arrangement.state.text)
        choices = book.tunes[0] if book.tunes else choices
    return replace(found, arrangement=arrangement, choices=choices)


def usual_arrangement(shelf: Shelf, tune: int) -> Item | None:
    return next((each for each in arrangements_of(shelf, tune) if each.name == USUAL), None)


def _tune_item(shelf: Shelf, number: int) -> Item:
    item = shelf.item(number, Kind.TUNE)
    if item.removed:
        raise NotOnShelf(f"{item.name} was taken off the shelf. Put it back to open it.")
    return item


def _read(shelf: Shelf, item: Item) -> Looked:
    nothing = TuneChoices()
    if item.state.form is Form.ABC:
        read = read_text(item.state.text, str(item.state.about.get(HEADER, "")))
        places = _places(read.tune) if read.tune else {}
        return Looked(item, None, item.state.text, True, read.tune, read.problems, nothing, places)
    try:
        tune = tune_of_state(shelf.attachments, item.name, item.state)
        text = write_abc(tune)
    except ReedwrightError as error:
        problem = Problem(1, 1, 1, str(error), "error")
        return Looked(item, None, "", False, None, (problem,), nothing, {})
    shown = read_text(text).tune
    places = _places(shown) if shown else {}
    told = tuple(Problem(1, 1, 1, each.message, "warning") for each in tune.problems)
    return Looked(item, None, text, False, tune, told, nothing, places)


def _places(tune: Tune) -> dict[str, tuple[int, int]]:
    found: dict[str, tuple[int, int]] = {}
    for voice in tune.voices:
        for bar in voice.bars:
            for event in bar.events:
                if isinstance(event, Note):
                    found[event.id] = event.place
    return found


_READ: Remembered[TextRead] = Remembered(64)


def read_text(text: str, header: str = "") -> TextRead:
    """The tune that an ABC text is, with every problem in its place; a text is one tune.

    `header`: the fields at the head of the book that it comes from. Lines may end as on any system.
    """
    if len(text) > _LONG:
        return _read_text(text, header)
    return _READ.get((text, header), lambda: _read_text(text, header))


_LONG = 100_000  # characters; what is longer is not kept


def _read_text(text: str, header: str) -> TextRead:
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    lines = plain.removesuffix("\n").split("\n")
    try:
        tune = read_tune(raw_tune(plain, header))
    except AbcError as error:
        return TextRead(None, (*more_tunes(lines), of_error(error, lines)))
    except Exception:  # whatever happens, what was typed is kept
        _LOG.exception("While reading a tune")
        return TextRead(None, (Problem(1, 1, 1, FAULT, "error"),))
    problems = sorted((*of_tune(tune, lines), *more_tunes(lines)), key=lambda each: each[:2])
    return TextRead(tune, tuple(problems))
