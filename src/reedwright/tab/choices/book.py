"""The arrangement file of a tunebook as a value: the choices for each of its tunes.

Public: `ChoiceBook`.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from pathlib import Path

from reedwright.tab.choices.matching import choices_of
from reedwright.tab.choices.model import TuneChoices
from reedwright.tune.model import Tune


@dataclass(frozen=True, slots=True)
class ChoiceBook:
    """The arrangement file of a tunebook. `text` is the file as it was read."""

    tunes: tuple[TuneChoices, ...] = ()
    text: str = ""
    path: Path | None = None

    def changed(self, choices: TuneChoices) -> ChoiceBook:
        """The book with these choices in the place of what it had for that tune."""
        if choices.table is None:
            mine = replace(choices, table=len(self.tunes))
            return replace(self, tunes=(*self.tunes, mine))
        tunes = list(self.tunes)
        tunes[choices.table] = choices
        return replace(self, tunes=tuple(tunes))

    def of(self, tune: Tune, in_book: Collection[tuple[str, str]] = ()) -> TuneChoices:
        """What is decided about a tune; empty where the book has nothing (see `matching`).

        `in_book`: number and title of all tunes of the tunebook.
        """
        return choices_of(self.tunes, tune, in_book)
