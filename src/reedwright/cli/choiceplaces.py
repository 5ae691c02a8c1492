"""Where the choices for a tune are kept: in a file beside the tunes, or on the shelf with it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from reedwright.cli import shelved

if TYPE_CHECKING:
    from reedwright.tab.choices import ChoiceBook, TuneChoices
    from reedwright.tune.model import Tune


class ChoicesPlace(Protocol):
    """`name`: as users are told of it. `book`: what is kept there."""

    @property
    def name(self) -> str: ...

    @property
    def book(self) -> ChoiceBook: ...

    def keep(self, choices: TuneChoices, said: str) -> str:
        """Keep these, and say so in a sentence."""


@dataclass(frozen=True, slots=True)
class InFile:
    """The arrangement file at `path`."""

    path: Path
    book: ChoiceBook

    @property
    def name(self) -> str:
        return str(self.path)

    def keep(self, choices: TuneChoices, said: str) -> str:
        from reedwright.tab.choices import write_choices

        new = not self.path.exists()
        write_choices(self.path, self.book.changed(choices))
        return f"{'Made' if new else 'Written to'} {self.path}."


@dataclass(frozen=True, slots=True)
class OnShelf:
    """The arrangement of a tune of the shelf; every choice is a state that can be undone."""

    tune: Tune

    @property
    def name(self) -> str:
        return self.tune.source

    @property
    def book(self) -> ChoiceBook:
        from reedwright.tab.choices import ChoiceBook

        kept = shelved.choices_for(self.tune)
        if kept is None:
            return ChoiceBook()
        # They are this tune's whatever it is called by now.
        mine = replace(kept, title=self.tune.title, number=self.tune.number, table=0)
        return ChoiceBook((mine,))

    def keep(self, choices: TuneChoices, said: str) -> str:
        shelved.keep_choices_for(self.tune, choices, said)
        return "Kept on the shelf."
