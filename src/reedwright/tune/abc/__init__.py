"""ABC 2.1: tunebooks read into the model, and tunes written back.

Public: `read_tunebook`, `read_abc`, `write_abc`, `same_music`. The standard followed is
"The abc music standard 2.1 (Dec 2011)"; where real tunebooks are looser, one
sensible reading is taken and told (see `Tune.problems`), and a tune that has none
comes out as `Refused` in its place.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from reedwright.tune.abc.errors import AbcError
from reedwright.tune.abc.sameness import normal_form, same_music
from reedwright.tune.abc.splitting import RawTune, split_tunebook
from reedwright.tune.abc.tune import read_tune
from reedwright.tune.abc.writer import write_abc
from reedwright.tune.model import Tune
from reedwright.tune.refused import Refused

__all__ = [
    "AbcError",
    "Refused",
    "normal_form",
    "read_abc",
    "read_tunebook",
    "same_music",
    "write_abc",
]


def read_tunebook(lines: Iterable[str], source: str = "") -> Iterator[Tune | Refused]:
    """Read the tunes of a tunebook one by one, however long it is.

    `source` names the file for errors. A tune without a sensible reading comes as
    `Refused`; the next ones are read all the same.
    """
    for raw in split_tunebook(lines):
        try:
            yield read_tune(raw, source)
        except AbcError as error:
            yield Refused(*_name(raw), error)


def read_abc(text: str, source: str = "") -> list[Tune | Refused]:
    """All tunes of a text."""
    return list(read_tunebook(text.splitlines(keepends=True), source))


def _name(raw: RawTune) -> tuple[str, str]:
    number = title = ""
    for line in raw.lines:
        if line.text.startswith("X:") and not number:
            number = line.text[2:].strip()
        elif line.text.startswith("T:") and not title:
            title = line.text[2:].strip()
    return number, title
