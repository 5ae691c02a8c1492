"""The tunes that a plan draws from, found by number or title; and tunes of a library beyond files.

Public: `Pool`, `Library`, `NO_LIBRARY`, `NotFound`.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from reedwright.datafiles import did_you_mean
from reedwright.errors import ReedwrightError
from reedwright.page.book.indexes import sorted_title
from reedwright.tab.choices import TuneChoices
from reedwright.tune.model import Tune
from reedwright.tune.reading import files_of_tunes, read_tunes
from reedwright.tune.refused import Refused

LIBRARY_PREFIX = "shelf:"
_NAMED_AT_MOST = 4  # tunes in a message


class NotFound(ReedwrightError):
    """No tune has that number or title, or several have."""


@dataclass(frozen=True, slots=True)
class Library:
    """A library of tunes, as a plan may ask it. Each may raise `ReedwrightError`.

    `search`: tunes for the keys of a `search` table. `named`: those behind `shelf:12` or the like.
    `choices`: what was decided about one of its tunes, None for a tune from elsewhere.
    """

    search: Callable[[Mapping[str, object]], Sequence[Tune]]
    named: Callable[[str], Sequence[Tune]]
    choices: Callable[[Tune], TuneChoices | None]


def _no_search(wanted: Mapping[str, object]) -> Sequence[Tune]:
    raise NotFound("a search needs the shelf, and there is none here")


def _none_named(place: str) -> Sequence[Tune]:
    raise NotFound(f"'{place}' is on the shelf, and there is none here")


NO_LIBRARY = Library(_no_search, _none_named, lambda tune: None)


class Pool:
    """The tunes of files and folders, in order. What cannot be read is told, the rest goes on.

    Paths are taken from `folder` on.
    """

    def __init__(self, folder: Path, library: Library, tell: Callable[[str], None]) -> None:
        self._folder, self._library, self._tell = folder, library, tell
        self._by_file: dict[str, list[Tune]] = {}
        self._told: set[str] = set()

    def of_places(self, places: Iterable[str], where: Iterable[str]) -> list[Tune]:
        """All the tunes of files, folders and `shelf:` places; `where` is for messages."""
        found: list[Tune] = []
        for place, line in zip(places, where, strict=True):
            try:
                found += self._of_place(place, line)
            except ReedwrightError as error:
                self.tell(line, str(error))
        return found

    def _of_place(self, place: str, where: str) -> list[Tune]:
        if place.startswith(LIBRARY_PREFIX):
            return list(self._library.named(place))
        path = self._folder / Path(place).expanduser()
        files = files_of_tunes([path])
        if not files:
            self.tell(where, f"{path}: there are no tunes in this folder")
        found: list[Tune] = []
        for file in files:
            try:
                found += self._of_file(file, where)
            except ReedwrightError as error:
                self.tell(where, str(error))
        return found

    def _of_file(self, file: Path, where: str) -> list[Tune]:
        name = os.path.normpath(file)
        if name not in self._by_file:
            tunes = self._by_file[name] = []
            for tune in read_tunes(Path(name)):
                if isinstance(tune, Refused):
                    called = tune.title or f"tune {tune.number}"
                    self.tell("", f"{name}, {called}: {tune.error}")
                else:
                    tunes.append(tune)
        return self._by_file[name]

    def tunes_beside(self, tunes: Iterable[Tune]) -> Iterator[Tune]:
        """All the tunes of the files that these came from."""
        for file in dict.fromkeys(os.path.normpath(tune.source) for tune in tunes):
            yield from self._by_file.get(file, ())

    def tell(self, where: str, message: str) -> None:
        """Once each."""
        said = f"{where}: {message}" if where else message
        if said not in self._told:
            self._told.add(said)
            self._tell(said)


class Named:
    """Tunes looked up by number and title."""

    def __init__(self, tunes: Sequence[Tune]) -> None:
        self._tunes = tunes
        self._by_number: dict[str, list[Tune]] = {}
        self._by_title: dict[str, list[Tune]] = {}
        for tune in tunes:
            self._by_number.setdefault(tune.number, []).append(tune)
            for title in dict.fromkeys(sorted_title(title)[0] for title in tune.titles):
                self._by_title.setdefault(title, []).append(tune)

    def find(self, called: str, number: str = "") -> Tune:
        """The one tune of that number, else of that title, else with that in its title.

        `number` tells those of one title apart. Raises `NotFound`, which names what is near.
        """
        if not called:
            return self._only(self._by_number.get(number, []), f"number {number}")
        for found in self._found(called):
            if len(found) > 1 and number:
                found = [tune for tune in found if tune.number == number] or found
            if found:
                return self._only(found, f"'{called}'")
        titles = {tune.title for tune in self._tunes}
        hint = did_you_mean(called, titles) or "; `reedwright read` lists what a file holds"
        raise NotFound(f"no tune has the number or title '{called}'{hint}")

    def _found(self, called: str) -> Iterable[list[Tune]]:
        plain = sorted_title(called)[0]
        yield self._by_number.get(called, [])
        yield self._by_title.get(plain, [])
        if plain:
            yield [
                tune
                for tune in self._tunes
                if any(plain in sorted_title(title)[0] for title in tune.titles)
            ]

    def _only(self, found: Sequence[Tune], what: str) -> Tune:
        if len(found) == 1:
            return found[0]
        if not found:
            raise NotFound(f"no tune has {what}")
        named = "; ".join(_told(tune) for tune in found[:_NAMED_AT_MOST])
        more = len(found) - _NAMED_AT_MOST
        raise NotFound(
            f"{what} may be any of {len(found)} tunes: {named}"
            + (f" and {more} more" if more > 0 else "")
            + "; say its whole title, 'number' or 'file', too"
        )


def _told(tune: Tune) -> str:
    return f"{tune.title} (number {tune.number}, {Path(tune.source).name or 'no file'})"
