"""Reading an arrangement file: TOML to `ChoiceBook`, every slip told with file, line and key.

Public: `read_choices`, `choices_path`, `parsed_choices`.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

from reedwright.datafiles import did_you_mean
from reedwright.tab.choices.book import ChoiceBook
from reedwright.tab.choices.entries import Entries
from reedwright.tab.choices.lines import FileLines
from reedwright.tab.choices.model import FORM, ChoicesError, TuneChoices

ENDING = ".arrangement.toml"
TOP_KEYS = ("form", "tune")


def choices_path(tune_file: Path) -> Path:
    """Where the choices for a file of tunes are kept: `tunes.abc` -> `tunes.arrangement.toml`."""
    return tune_file.with_name(tune_file.stem + ENDING)


def read_choices(path: Path) -> ChoiceBook:
    """The choices in a file; an empty book where there is no such file yet.

    Raises `ChoicesError`, also for a file of a newer form than this version knows.
    """
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        return ChoiceBook(path=path)
    except UnicodeDecodeError as error:
        raise ChoicesError(
            f"{path}: not UTF-8 at byte {error.start}; save the file as UTF-8"
        ) from None
    except OSError as error:
        raise ChoicesError(f"{path}: cannot be read ({error.strerror or error})") from None
    return parsed_choices(text, path)


def parsed_choices(text: str, path: Path | None = None) -> ChoiceBook:
    """The same from text. `path` is for messages."""
    name = str(path) if path else "the arrangement file"
    text = text.replace("\r\n", "\n")
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ChoicesError(
            f"{name}: not a valid TOML file: {error}. Each choice is one line such as "
            '{ part = "A", bar = 3, beat = 1, pitch = "G4", play = "2 draw" }, '
            "with a comma after it"
        ) from None
    lines = FileLines(text)
    form = values.get("form", FORM)
    if not isinstance(form, int) or isinstance(form, bool) or form < 1:
        raise ChoicesError(f"{_at(name, lines.line(None, 'form'))}'form' must be {FORM}")
    if form > FORM:
        raise ChoicesError(
            f"{_at(name, lines.line(None, 'form'))}the file has form {form}, and this version of "
            f"Reedwright knows form {FORM}; it is left as it is. Take a newer version"
        )
    for key in values:
        if key not in TOP_KEYS:
            hint = did_you_mean(key, TOP_KEYS) or "; what is said of a tune stands under [[tune]]"
            raise ChoicesError(f"{_at(name, lines.line(None, key))}unknown key '{key}'{hint}")
    tables = values.get("tune", [])
    if not isinstance(tables, list) or not all(isinstance(each, dict) for each in tables):
        raise ChoicesError(
            f"{_at(name, lines.line(None, 'tune'))}write [[tune]] with two brackets: "
            "there is one such table for each tune"
        )
    tunes: list[TuneChoices] = []
    for number, table in enumerate(tables):
        entries = Entries(name, lines, number)
        tunes.append(entries.tune(table))
    return ChoiceBook(tuple(tunes), text, path)


def _at(name: str, line: int | None) -> str:
    return f"{name}: " if line is None else f"{name}, line {line}: "
