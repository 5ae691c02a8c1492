"""A player's profile on the shelf as a form shows it, and as it says it should be.

Every weight stands there with its words. What differs from the profile as it was is written into
its text, the rest of which, comments and all, stays.

Public: `Figure`, `figures`, `ProfileAsked`, `changed_text`, `begun`, `WEIGHTS`, `LUNGS`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Annotated, NamedTuple

from pydantic import BaseModel, Field

from reedwright.player.checking import ProfileError, lung_names, weight_names
from reedwright.player.loading import profile_files, profile_from_text
from reedwright.player.lungs import lungs_meanings
from reedwright.player.profile import TECHNIQUES, Profile, weight_meanings
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item, Kind
from reedwright.web.harps.players import player_choices, player_of
from reedwright.web.numbers import StateNumber

WEIGHTS = "weights"
LUNGS = "lungs"

# By the first weight of each, what the weights from there on are about.
_HEADINGS: Mapping[str, str] = {
    "comfortable_seconds": "Time",
    "draw_bend_1": "Techniques",
    "low_draw": "Holes",
    "breath_change": "Moves",
    "slur_skip": "Slurs",
    "grace": "Ornaments",
    "bend_from_afar": "Bends among other notes",
    "breath_balance": "Breath",
    "missing_note": "What can’t be played",
    "comfortable_litres": "Lungs",
}
_IN_WORDS = ("besides leap_hole", "besides what each hole of it costs")
_NAME = re.compile(r"\w(?:[\w -]{0,58}\w)?")

Number = Annotated[str, Field(max_length=160)]
Numbers = Annotated[list[Number], Field(max_length=80)]


class ProfileAsked(BaseModel):
    """`weights` and `lungs`: the figures as typed, in the order in which the page has them.
    `state`: the one that the page showed."""

    state: StateNumber
    title: Annotated[str, Field(max_length=120)] = ""
    description: Annotated[str, Field(max_length=1000)] = ""
    technique: Annotated[list[Annotated[str, Field(max_length=40)]], Field(max_length=20)] = []
    weights: Numbers = []
    lungs: Numbers = []


class Figure(NamedTuple):
    """A weight or a figure of the lungs. `heading` stands before the first of its kind; `text` is
    its value as it is typed, ten with spaces between for a weight by hole."""

    table: str
    name: str
    words: str
    heading: str
    text: str


def figures(profile: Profile, typed: ProfileAsked | None = None) -> tuple[Figure, ...]:
    """All of a profile's, in order; with the texts that were typed, where they are given."""
    texts = {} if typed is None else _typed(typed)
    meanings = {WEIGHTS: weight_meanings(), LUNGS: lungs_meanings()}
    return tuple(
        Figure(
            table,
            name,
            meanings[table][name].replace(*_IN_WORDS),
            _HEADINGS.get(name, ""),
            texts.get((table, name), _text(value)),
        )
        for table, name, value in _values(profile)
    )


def _values(profile: Profile) -> Iterator[tuple[str, str, float | tuple[float, ...]]]:
    for name in weight_names():
        yield WEIGHTS, name, getattr(profile.weights, name)
    for name in lung_names():
        yield LUNGS, name, getattr(profile.lungs, name)


def _text(value: float | tuple[float, ...]) -> str:
    return " ".join(f"{each:g}" for each in (value if isinstance(value, tuple) else (value,)))


def _typed(asked: ProfileAsked) -> dict[tuple[str, str], str]:
    """Raises `ProfileError` where the page had other figures than there are."""
    tables: tuple[tuple[str, Sequence[str], list[str]], ...] = (
        (WEIGHTS, weight_names(), asked.weights),
        (LUNGS, lung_names(), asked.lungs),
    )
    found = {}
    for table, names, texts in tables:
        if len(texts) != len(names):
            raise ProfileError("This page is of another version of Reedwright; load it again.")
        found.update({(table, name): text for name, text in zip(names, texts, strict=True)})
    return found


def changed_text(name: str, text: str, asked: ProfileAsked, wrong: dict[str, str]) -> str:
    """The profile's text as the form asks for it; what can't be is told in `wrong`, by the figure's
    table and name (`weights-leap`).

    Raises `ProfileError` as `_typed`, and for a text that is no profile.
    """
    import tomlkit

    path = Path(f"{name}.toml")
    before = profile_from_text(path, text)
    document = tomlkit.parse(text)
    typed = _typed(asked)
    if asked.title.strip() and asked.title != before.title:
        document["title"] = asked.title
    if asked.description != before.description:
        document["description"] = asked.description
    techniques = [each for each in TECHNIQUES if each in asked.technique]
    if frozenset(techniques) != before.techniques:
        document["techniques"] = techniques
    for table, key, value in _values(before):
        said = typed[table, key]
        if said.split() == _text(value).split():
            continue
        number = _number(said, isinstance(value, tuple))
        if number is None:
            wrong[f"{table}-{key}"] = f"'{said}' is not a number, such as 1.5."
            continue
        entries = document.setdefault(table, tomlkit.table())
        entries[key] = number
        try:
            profile_from_text(path, tomlkit.dumps(document))
        except ProfileError as error:
            wrong.setdefault(f"{table}-{key}", _plain(error, path))
    return tomlkit.dumps(document)


def _number(text: str, many: bool) -> float | list[float] | None:
    """Numbers as people write them, also with a decimal comma; by hole with spaces between."""
    try:
        numbers = [float(each.strip(",;").replace(",", ".")) for each in text.split()]
    except ValueError:
        return None
    if many:
        return numbers
    return numbers[0] if len(numbers) == 1 else None


def _plain(error: ProfileError, path: Path) -> str:
    """The sentence without the file that there is not."""
    said = str(error).removeprefix(f"{path}: ")
    return f"{said[:1].upper()}{said[1:]}."


def begun(shelf: Shelf, name: str, source: str) -> Item:
    """A new profile on the shelf that begins as another one. Raises `ProfileError`."""
    import tomlkit

    called = " ".join(name.split())
    if not _NAME.fullmatch(called):
        raise ProfileError("A player needs a name of letters, digits and spaces, such as Anna.")
    with shelf.change():
        choices = player_choices(shelf)
        taken = {each.profile.name.casefold() for each in choices}
        taken |= {each.casefold() for each in profile_files()}
        taken |= {item.name.casefold() for item in shelf.items(Kind.PROFILE)}
        if called.casefold() in taken:
            raise ProfileError(f"There is a player '{called}' already; choose another name.")
        start = player_of(choices, source)
        if start.item:
            document = tomlkit.parse(shelf.item(start.item).state.text)
        else:
            document = tomlkit.document()
            document["base"] = start.profile.name
        document["title"] = called
        return shelf.add(
            Kind.PROFILE, called, Form.TOML, tomlkit.dumps(document), said="begun here"
        )
