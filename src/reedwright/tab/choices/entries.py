"""One tune's table of an arrangement file, checked key by key.

Public: `Entries`, `KEYS`, `LISTS`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any, NoReturn

from reedwright.datafiles import did_you_mean
from reedwright.errors import ReedwrightError
from reedwright.harp.making import parse_harp
from reedwright.player.checking import ProfileError, weights_of
from reedwright.player.profile import Weights
from reedwright.tab.choices.lines import FileLines
from reedwright.tab.choices.model import (
    Aside,
    Breathe,
    Choice,
    ChoicesError,
    Never,
    NotePlace,
    Ornamented,
    Play,
    Says,
    TuneChoices,
    Way,
    Weight,
)
from reedwright.tab.choices.pitches import is_pitch
from reedwright.tab.choices.places import NOTHING
from reedwright.tab.choices.spelling import parse_way
from reedwright.tab.ornaments.model import Amount, OrnamentKind

KEYS = (
    "title",
    "number",
    "harp",
    "octaves",
    "semitones",
    "player",
    "amount",
    "second_time",
    "voice",
    "weights",
    "notes",
    "ornaments",
    "breaths",
    "aside",
)
LISTS = {"notes": ("play", "never"), "ornaments": ("ornament",), "breaths": ("breathe",)}
"""The lists of choices, and what an entry of each says."""
_PLACE_KEYS = ("part", "bar", "beat", "pitch", "between", "time")
_EXAMPLES = {
    "notes": '{ part = "A", bar = 3, beat = 1, pitch = "G4", play = "2 draw" }',
    "ornaments": '{ part = "A", bar = 3, beat = 1, pitch = "G4", ornament = "cut" }',
    "breaths": '{ part = "A", bar = 3, beat = 1, pitch = "G4", breathe = true }',
    "aside": '{ part = "A", bar = 3, beat = 1, pitch = "G4", play = "2 draw", reason = "..." }',
}
NO_ORNAMENT = "none"
WRITTEN = "written"
# Grace notes as such can only be written into the tune.
ORNAMENT_WORDS = (
    NO_ORNAMENT,
    *(kind.value for kind in OrnamentKind if kind is not OrnamentKind.GRACES),
)

FINEST_BEAT = 48
"""Beats are read to the nearest fraction with at most this below the line: `1.33` is 1 1/3."""
MOST_MOVED = 127


class Entries:
    """Reads the table of one tune; every error names file, line and key."""

    def __init__(self, name: str, lines: FileLines, table: int) -> None:
        self.name = name
        self.lines = lines
        self.table = table

    def tune(self, values: Mapping[str, Any]) -> TuneChoices:
        for key in values:
            if key not in KEYS:
                self._unknown(key, KEYS, key)
        choices: list[Choice] = []
        for key, says in LISTS.items():
            for at, entry in enumerate(self._list(values, key)):
                choices.append(self._choice(key, at, entry, says))
        every = tuple(word for says in LISTS.values() for word in says)
        aside: list[Aside] = []
        for at, entry in enumerate(self._list(values, "aside")):
            reason = entry.get("reason", "")
            if not isinstance(reason, str):
                self._fail("'reason' must be text in quotation marks", "aside", at)
            rest = {key: value for key, value in entry.items() if key != "reason"}
            aside.append(Aside(self._choice("aside", at, rest, every), reason))
        amount = self._text(values, "amount")
        if amount and amount not in (*Amount, WRITTEN):
            self._fail(
                f"'amount' is '{amount}'{did_you_mean(amount, Amount)}; "
                f"it is one of {', '.join(Amount)}",
                "amount",
            )
        return TuneChoices(
            title=self._text(values, "title"),
            number=self._number_of_tune(values),
            harp=self._harp(values),
            octaves=self._whole(values, "octaves", -9, 9),
            semitones=self._whole(values, "semitones", -MOST_MOVED, MOST_MOVED),
            player=self._text(values, "player"),
            amount=amount_of(amount) if amount else None,
            second_time=self._truth(values, "second_time"),
            voice=self._whole(values, "voice", 1, 1000),
            weights=self._weights(values.get("weights", {})),
            choices=tuple(choices),
            aside=tuple(aside),
            table=self.table,
        )

    def _choice(self, key: str, at: int, entry: Mapping[str, Any], says: Iterable[str]) -> Choice:
        says = tuple(says)
        for each in entry:
            if each not in (*_PLACE_KEYS, *says):
                self._unknown(each, (*_PLACE_KEYS, *says), key, at)
        said = [each for each in says if each in entry]
        if len(said) != 1:
            what = " or ".join(f"'{each}'" for each in says)
            many = "only one of " if said else ""
            self._fail(f"the entry must say {many}{what}: {_EXAMPLES[key]}", key, at)
        place = self._place(key, at, entry)
        return Choice(place, self._says(key, at, said[0], entry[said[0]]))

    def _says(self, key: str, at: int, word: str, value: Any) -> Says:
        match word:
            case "play":
                return Play(self._way(key, at, value))
            case "never":
                ways = value if isinstance(value, list) else [value]
                if not ways:
                    self._fail("'never' names no way: write never = [\"3 blow\"]", key, at)
                return Never(tuple(self._way(key, at, way) for way in ways))
            case "ornament":
                if value not in ORNAMENT_WORDS:
                    hint = did_you_mean(str(value), ORNAMENT_WORDS)
                    self._fail(
                        f"there is no ornament '{value}'{hint}; "
                        f"write one of {', '.join(ORNAMENT_WORDS)}",
                        key,
                        at,
                    )
                return Ornamented(None if value == NO_ORNAMENT else OrnamentKind(value))
            case _:
                if not isinstance(value, bool):
                    self._fail("'breathe' must be true or false, without quotation marks", key, at)
                return Breathe(value)

    def _place(self, key: str, at: int, entry: Mapping[str, Any]) -> NotePlace:
        for needed in ("part", "bar", "beat", "pitch"):
            if needed not in entry:
                self._fail(f"the entry lacks '{needed}': {_EXAMPLES[key]}", key, at)
        part, bar, pitch = entry["part"], entry["bar"], entry["pitch"]
        between, time = entry.get("between", ""), entry.get("time", 0)
        if not isinstance(part, str) or not part:
            self._fail("'part' must be the letter of a part, such as \"A\"", key, at)
        if not _is_whole(bar) or bar < 0:
            self._fail(
                "'bar' must be a whole number: 1 is the first full bar of the part, 0 its upbeat",
                key,
                at,
            )
        if not isinstance(pitch, str) or not is_pitch(pitch):
            self._fail("'pitch' must be a note name with octave, such as \"F#4\"", key, at)
        if not isinstance(between, str) or not _is_between(between):
            self._fail(
                "'between' must name the notes before and after, such as \"A4 C5\" "
                f'("{NOTHING}" for none)',
                key,
                at,
            )
        if not _is_whole(time) or time not in (0, 1, 2):
            self._fail("'time' must be 1 or 2: the first or second time through", key, at)
        return NotePlace(part, bar, self._beat(key, at, entry["beat"]), pitch, between, time)

    def _beat(self, key: str, at: int, value: Any) -> Fraction:
        try:
            if isinstance(value, bool) or not isinstance(value, int | float | str):
                raise ValueError
            if isinstance(value, str):
                return _in_beats(Fraction(value))
            if not math.isfinite(value):
                raise ValueError
            return _in_beats(Fraction(str(value)).limit_denominator(FINEST_BEAT))
        except (ValueError, ZeroDivisionError):
            self._fail("'beat' must be a number from 1, such as 2.5 or \"7/3\"", key, at)

    def _way(self, key: str, at: int, value: Any) -> Way:
        if not isinstance(value, str):
            self._fail('a way is written in quotation marks, such as "2 draw"', key, at)
        try:
            return parse_way(value)
        except ChoicesError as error:
            self._fail(str(error), key, at)

    def _weights(self, values: Any) -> dict[str, Weight]:
        if not isinstance(values, dict):
            self._fail(
                "'weights' must be a table: the line [tune.weights], then weights", "weights"
            )
        found: dict[str, Weight] = {}
        for name, value in values.items():
            key = f"weights.{name}"
            try:
                found[name] = weight_value(name, value)
            except ChoicesError as error:
                self._fail(str(error), key)
        return found

    def _harp(self, values: Mapping[str, Any]) -> str:
        text = self._text(values, "harp")
        if text:
            try:
                parse_harp(text)
            except ReedwrightError as error:
                self._fail(f"'harp': {error}", "harp")
        return text

    def _number_of_tune(self, values: Mapping[str, Any]) -> str:
        value = values.get("number", "")
        if isinstance(value, bool) or not isinstance(value, int | str):
            self._fail("'number' must be the tune's number (X:)", "number")
        return str(value)

    def _list(self, values: Mapping[str, Any], key: str) -> list[Mapping[str, Any]]:
        value = values.get(key, [])
        if not isinstance(value, list) or not all(isinstance(each, dict) for each in value):
            self._fail(f"'{key}' must be a list of entries such as {_EXAMPLES[key]}", key)
        return value

    def _text(self, values: Mapping[str, Any], key: str) -> str:
        value = values.get(key, "")
        if not isinstance(value, str):
            self._fail(f"'{key}' must be text in quotation marks", key)
        return value

    def _whole(self, values: Mapping[str, Any], key: str, least: int, most: int) -> int | None:
        value = values.get(key)
        if value is not None and (not _is_whole(value) or not least <= value <= most):
            self._fail(f"'{key}' must be a whole number from {least} to {most}", key)
        return value

    def _truth(self, values: Mapping[str, Any], key: str) -> bool:
        value = values.get(key, False)
        if not isinstance(value, bool):
            self._fail(f"'{key}' must be true or false, without quotation marks", key)
        return value

    def _unknown(
        self, word: str, known: Iterable[str], key: str, at: int | None = None
    ) -> NoReturn:
        known = tuple(known)
        hint = did_you_mean(word, known) or f"; there are {', '.join(known)}"
        self._fail(f"unknown key '{word}'{hint}", key, at)

    def _fail(self, message: str, key: str, at: int | None = None) -> NoReturn:
        line = self.lines.line(self.table, key, at)
        where = self.name if line is None else f"{self.name}, line {line}"
        inside = f", entry {at + 1} of '{key}'" if at is not None else ""
        raise ChoicesError(f"{where}{inside}: {message}")


def amount_of(word: str) -> Amount:
    """How much ornament, by its word; `written` will do for `as written`."""
    return Amount.WRITTEN if word == WRITTEN else Amount(word)


def weight_value(name: str, value: Any) -> Weight:
    """A weight as a profile may have it. Raises `ChoicesError`."""
    here = Path()
    try:
        weights = weights_of(here, {name: value}, Weights())
    except ProfileError as error:
        raise ChoicesError(str(error).removeprefix(f"{here}: ")) from None
    found: Weight = getattr(weights, name)
    return found


def _in_beats(beat: Fraction) -> Fraction:
    if beat < 1:
        raise ValueError
    return beat


def _is_whole(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _is_between(text: str) -> bool:
    if not text:
        return True
    names = text.split(" ")
    return len(names) == 2 and all(name == NOTHING or is_pitch(name) for name in names)
