"""What may be asked of the shelf, and what it answers.

Public: `Wanted`, `Hit`, `Answer`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from reedwright.harp.model import Harp
from reedwright.tune.likeness.model import Difference


@dataclass(frozen=True, slots=True)
class Wanted:
    """All that is said must hold; what is not said does not matter.

    `words`: of titles first, and of any other field; typing errors are forgiven, accents and `the`
    ignored. `types`, `metres`, `modes`, `keys` (`G`: any mode; `G major`): any of them.
    `lowest`, `highest`: MIDI notes that the melody stays within. `plain_on`: harps of which one at
    least plays it with no bends, as written or moved by `octaves`. `grades`: from and to, for
    `player`. `taught`: True for tunes that stand in a lesson, False for those that stand in
    none. `taught_to`: words of the lesson's name. `in_list`: name of a list on the shelf.
    `notes`: ABC; `notes_key` the key that they are meant in. `contour`: Parsons code. `like`:
    number of a tune on the shelf. `fields`: words by the letter of a header field,
    `{"C": "nagle"}`.
    """

    words: str = ""
    types: tuple[str, ...] = ()
    keys: tuple[str, ...] = ()
    modes: tuple[str, ...] = ()
    metres: tuple[str, ...] = ()
    grades: tuple[float, float] | None = None
    player: str = "player"
    lowest: int | None = None
    highest: int | None = None
    plain_on: tuple[Harp, ...] = ()
    octaves: tuple[int, ...] = (0,)
    taught: bool | None = None
    taught_to: str = ""
    in_list: str = ""
    notes: str = ""
    notes_key: str | None = None
    contour: str = ""
    like: int | None = None
    fields: Mapping[str, str] = field(default_factory=dict)
    limit: int = 20
    offset: int = 0


@dataclass(frozen=True, slots=True)
class Hit:
    """A tune that was found: its number on the shelf and what a list shows of it.

    `score`, 0 to 1, where notes or likeness were asked for; `difference` what differs then, and
    `bars` where it fits. `plain_on`: names of the harps asked for that play it with no bends.
    """

    item: int
    title: str
    type: str
    key: str
    metre: str
    composer: str = ""
    grade: float | None = None
    score: float | None = None
    difference: Difference | None = None
    bars: tuple[int, int] | None = None
    plain_on: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """The hits from `offset` on, at most `limit`, the best first; `count` is how many there are in
    all. `guessed`: what was typed, and the word that it was taken for."""

    hits: tuple[Hit, ...]
    count: int
    guessed: Mapping[str, str] = field(default_factory=dict)
