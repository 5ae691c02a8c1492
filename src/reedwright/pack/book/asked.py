"""What the file of a plan asks for, as values; `asking` reads them.

Public: `Asked`, `AskedChapter`, `AskedTune`, `AskedFewest`, `Overrides`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from reedwright.page.book.model import BookLook
from reedwright.tab.ornaments.model import Amount

FORM = 1
"""The form of file that is written; a file of a higher one is refused."""

ALL, OWNED, FEWEST = "all", "owned", "fewest"
HARP_WORDS = (ALL, OWNED, FEWEST)


@dataclass(frozen=True, slots=True)
class Overrides:
    """What a plan says of one tune. None and "" mean that nothing was said. `choices`: a file of
    choices, False for none."""

    harp: str = ""
    tuning: str = ""
    valves: str = ""
    octave: int | None = None
    semitones: int | None = None
    voice: int | None = None
    tempo: float | None = None
    amount: Amount | None = None
    second_time: bool | None = None
    words: str = ""
    address: str = ""
    sold: bool | None = None
    choices: Path | bool | None = None
    player: str = ""


@dataclass(frozen=True, slots=True)
class AskedTune:
    """A tune as the plan names it: by number or title (`tune`), or `shelf:12`; `number` tells those
    of one title apart, `file` says where to look. `where` is for messages."""

    tune: str
    number: str = ""
    file: str = ""
    overrides: Overrides = Overrides()
    where: str = ""


@dataclass(frozen=True, slots=True)
class AskedChapter:
    """`tunes` is None where all of the file, and of what is searched for, are meant."""

    title: str
    words: str = ""
    file: str = ""
    tunes: tuple[AskedTune, ...] | None = None
    search: Mapping[str, object] | None = None
    where: str = ""


@dataclass(frozen=True, slots=True)
class AskedFewest:
    """As `reedwright.tab.sets.wishes` has it; harps as texts. `owned` None: the player's."""

    harps: tuple[str, ...] = ()
    owned: tuple[str, ...] | None = None
    owned_counts: float = 1.0
    must: tuple[str, ...] = ()
    never: tuple[str, ...] = ()
    effort: float | None = None
    above_best: float | None = None
    no_bends: bool = False
    most: int | None = None
    odd: bool = True
    most_odd: int | None = None
    registers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Asked:
    """The whole plan. `by` and `order` as `BookPlan`; `choices`: whether files of choices beside
    the tunes are looked at. `fewest`: what is said of the choice of fewest harps."""

    path: Path
    title: str
    subtitle: str = ""
    maker: str = ""
    preface: tuple[str, ...] = ()
    imprint: tuple[str, ...] = ()
    rights: str = ""
    credits: tuple[str, ...] = ()
    player: str = ""
    harps: tuple[str, ...] | str = ""
    sources: tuple[str, ...] = ()
    search: Mapping[str, object] | None = None
    tunes: tuple[AskedTune, ...] | None = None
    chapters: tuple[AskedChapter, ...] = ()
    by: str = "own"
    order: str = "given"
    choices: bool = True
    amount: Amount | None = None
    second_time: bool = False
    base_address: str = ""
    look: BookLook = field(default_factory=BookLook)
    special: tuple[AskedTune, ...] = ()
    fewest: AskedFewest | None = None
    source_lines: tuple[str, ...] = ()
