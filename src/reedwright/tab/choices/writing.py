"""Writing an arrangement file, so that everything else in it stays as the teacher wrote it.

Only what changed is written: an entry that stays is not touched, nor are comments, order and
spacing. The comment behind an entry goes with it when it is put aside or taken back.

Public: `write_choices`, `written_choices`, `settings_of`, `values_of`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

from reedwright.files import write_whole
from reedwright.tab.choices.book import ChoiceBook
from reedwright.tab.choices.entries import FINEST_BEAT, LISTS, NO_ORNAMENT
from reedwright.tab.choices.lines import FileLines
from reedwright.tab.choices.model import (
    FORM,
    Aside,
    Breathe,
    Choice,
    ChoicesError,
    Never,
    Ornamented,
    Play,
    TuneChoices,
)
from reedwright.tab.choices.reading import parsed_choices
from reedwright.tab.choices.spelling import way_words

HEADING = f"""\
# The teacher's choices for the tunes beside this file: docs/choices.md tells all about it.
# Edit it by hand as you like; your comments stay.
form = {FORM}
"""
_INDENT = "    "
_MOST_DECIMALS = 4  # of a beat; finer ones are written as a fraction

_LIST_OF = {Play: "notes", Never: "notes", Ornamented: "ornaments", Breathe: "breaths"}

Entry = Choice | Aside


def write_choices(path: Path, book: ChoiceBook) -> None:
    """Write the book to its file, whole or not at all; nothing where nothing changed.

    Raises `ChoicesError` where the file was changed by someone else since it was read, and
    `NotWritten`.
    """
    text = written_choices(book)
    line_end = "\n"
    try:
        there = path.read_bytes().decode("utf-8-sig")
        if "\r\n" in there:
            line_end, there = "\r\n", there.replace("\r\n", "\n")
    except FileNotFoundError:
        there = ""
    except (OSError, UnicodeDecodeError) as error:
        raise ChoicesError(f"{path}: cannot be read again before writing ({error})") from None
    if there != book.text:
        raise ChoicesError(
            f"{path}: the file was changed while this was being worked out, and is left as it "
            "is. Do it again"
        )
    if text != there:
        write_whole(path, text.replace("\n", line_end).encode("utf-8"))


def written_choices(book: ChoiceBook) -> str:
    """The text of the file for a book: what it was read from, with what changed."""
    import tomlkit

    if not book.text.strip():
        return HEADING + "".join(_new_table(each) for each in book.tunes)
    before = parsed_choices(book.text, book.path)
    lines = FileLines(book.text)
    document: Any = tomlkit.parse(book.text)
    for number, (old, new) in enumerate(zip(before.tunes, book.tunes, strict=False)):
        if old != new:
            _change(document["tune"][number], old, new, lines, number)
    text = str(tomlkit.dumps(document))
    if len(book.tunes) > len(before.tunes) and not text.endswith("\n"):
        text += "\n"
    return text + "".join(_new_table(each) for each in book.tunes[len(before.tunes) :])


def _change(table: Any, old: TuneChoices, new: TuneChoices, lines: FileLines, number: int) -> None:
    import tomlkit

    was, now = settings_of(old), settings_of(new)
    for key, value in now.items():
        if was.get(key) != value:
            table[key] = value
    for key in was.keys() - now.keys():
        table.remove(key)
    if old.weights != new.weights:
        if "weights" not in table:
            table.append("weights", tomlkit.table())
        weights = table["weights"]
        for name, weight in new.weights.items():
            if old.weights.get(name) != weight:
                weights[name] = _plain_weight(weight)
        for name in old.weights.keys() - new.weights.keys():
            weights.remove(name)
        if not new.weights:
            table.remove("weights")
    comments = _comments(old, lines, number)
    for key in (*LISTS, "aside"):
        _change_list(table, key, _entries(old, key), _entries(new, key), comments)


def _comments(old: TuneChoices, lines: FileLines, number: int) -> dict[Choice, str]:
    """The comment behind each choice."""
    found: dict[Choice, str] = {}
    for key in (*LISTS, "aside"):
        for at, entry in enumerate(_entries(old, key)):
            comment = lines.comment(number, key, at)
            if comment:
                found[_choice(entry)] = comment
    return found


def _change_list(
    table: Any, key: str, old: list[Entry], new: list[Entry], comments: Mapping[Choice, str]
) -> None:
    import tomlkit
    from tomlkit.items import AoT

    if old == new:
        return
    wanted = Counter(new)
    gone: list[int] = []
    for at, entry in enumerate(old):
        if wanted[entry]:
            wanted[entry] -= 1
        else:
            gone.append(at)
    added: list[Entry] = []
    for entry in reversed(new):  # of equal entries the last are the new ones
        if wanted[entry]:
            wanted[entry] -= 1
            added.insert(0, entry)
    if key not in table:
        table.append(key, tomlkit.array())
    array = table[key]
    for at in reversed(gone):
        del array[at]
    for entry in added:
        if isinstance(array, AoT):
            array.append(tomlkit.item(values_of(entry)))
            continue
        comment = comments.get(_choice(entry))
        array.add_line(tomlkit.value(_line(entry)), indent=_INDENT, comment=comment)
    if not new:
        table.remove(key)
    elif added and not isinstance(array, AoT):
        array.add_line(indent="", newline=not str(array.as_string()).rstrip(" ]").endswith("\n"))


def _new_table(choices: TuneChoices) -> str:
    """A tune that the file has not had, written out."""
    import tomlkit

    lines = ["", "[[tune]]"]
    for key, value in settings_of(choices).items():
        lines.append(f"{key} = {tomlkit.item(value).as_string()}")
    for key in (*LISTS, "aside"):
        entries = _entries(choices, key)
        if entries:
            lines.append(f"{key} = [")
            lines += [f"{_INDENT}{_line(entry)}," for entry in entries]
            lines.append("]")
    if choices.weights:
        lines += ["", "[tune.weights]"]
        for name, weight in choices.weights.items():
            lines.append(f"{name} = {tomlkit.item(_plain_weight(weight)).as_string()}")
    return "\n".join(lines) + "\n"


def settings_of(choices: TuneChoices) -> dict[str, Any]:
    """What is said of the whole tune, by key, in the order of the file."""
    number = choices.number
    said: dict[str, Any] = {
        "title": choices.title,
        "number": int(number)
        if number.isascii() and number.isdigit() and _plain(number)
        else number,
        "harp": choices.harp,
        "octaves": choices.octaves,
        "semitones": choices.semitones,
        "player": choices.player,
        "amount": choices.amount.value if choices.amount else None,
        "second_time": choices.second_time or None,
        "voice": choices.voice,
    }
    return {key: value for key, value in said.items() if value not in ("", None)}


def _plain(number: str) -> bool:
    """Whether it is the same number when read back (`007` is not)."""
    return str(int(number)) == number and len(number) < 16


def _entries(choices: TuneChoices, key: str) -> list[Entry]:
    if key == "aside":
        return list(choices.aside)
    return [each for each in choices.choices if _LIST_OF[type(each.says)] == key]


def _choice(entry: Entry) -> Choice:
    return entry.choice if isinstance(entry, Aside) else entry


def _line(entry: Entry) -> str:
    """An entry as an inline table."""
    import tomlkit

    said = (f"{key} = {tomlkit.item(value).as_string()}" for key, value in values_of(entry).items())
    return f"{{ {', '.join(said)} }}"


def values_of(entry: Entry) -> dict[str, Any]:
    """An entry by key, in the order in which it is written."""
    choice = _choice(entry)
    place = choice.place
    values: dict[str, Any] = {
        "part": place.part,
        "bar": place.bar,
        "beat": _beat(place.beat),
        "pitch": place.pitch,
    }
    match choice.says:
        case Play(way):
            values["play"] = way_words(way)
        case Never(ways):
            values["never"] = [way_words(way) for way in ways]
        case Ornamented(kind):
            values["ornament"] = NO_ORNAMENT if kind is None else kind.value
        case Breathe(breathe):
            values["breathe"] = breathe
    if place.time:
        values["time"] = place.time
    if place.between:
        values["between"] = place.between
    if isinstance(entry, Aside):
        values["reason"] = entry.reason
    return values


def _beat(beat: Fraction) -> int | float | str:
    """As a number that is read back as the same beat; else as a fraction in text."""
    if beat.denominator == 1:
        return beat.numerator
    for decimals in range(1, _MOST_DECIMALS + 1):
        number = round(float(beat), decimals)
        if Fraction(str(number)).limit_denominator(FINEST_BEAT) == beat and decimals >= 3:
            return number
        if Fraction(str(number)) == beat:
            return number
    return f"{beat.numerator}/{beat.denominator}"


def _plain_weight(weight: float | Iterable[float]) -> Any:
    if isinstance(weight, int | float):
        return int(weight) if float(weight).is_integer() else weight
    return [_plain_weight(each) for each in weight]
