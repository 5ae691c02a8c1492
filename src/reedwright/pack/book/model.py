"""A book as it is planned: its tunes and how each is to be played, before any of it is engraved.

Public: `PlannedTune`, `PlannedChapter`, `BookPlan`, `FewestHarps`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from reedwright.harp.model import Harp
from reedwright.page.book.model import BookLook
from reedwright.player.profile import Profile
from reedwright.tab.choices.model import TuneChoices
from reedwright.tab.sets.wishes import HarpWishes, Limit
from reedwright.tab.wishes import NO_WISHES, Wishes
from reedwright.tune.model import Tune


@dataclass(frozen=True, slots=True)
class PlannedTune:
    """A tune and how it is to be played.

    `harp`: None for the one that it lies best on, among `harps` where these are given; `octaves`
    None likewise. `tempo`: quarter notes a minute. `name`: for links and files, unlike any other in
    the book. `words`: the book maker's own. `address`: of its sound. `sold`: on a web site only its
    first part is to be heard and seen before it is bought. `wishes` are by id of note; `choices`,
    what a teacher wrote down, find their notes when the harp is known and go before them.
    """

    name: str
    tune: Tune
    player: Profile
    harp: Harp | None = None
    harps: tuple[Harp, ...] | None = None
    octaves: int | None = None
    semitones: int = 0
    voice: int = 0
    tempo: float | None = None
    wishes: Wishes = NO_WISHES
    words: str = ""
    address: str = ""
    sold: bool = False
    choices: TuneChoices | None = None


@dataclass(frozen=True, slots=True)
class PlannedChapter:
    """A chapter: its title (empty in a book without), the words before its tunes, its tunes."""

    title: str
    tunes: tuple[PlannedTune, ...]
    words: str = ""


@dataclass(frozen=True, slots=True)
class FewestHarps:
    """That as few harps as can be are to play the whole book: within what effort, by what wishes,
    and from which harps they are chosen (None for all)."""

    limit: Limit = Limit()  # noqa: RUF009 (a frozen value)
    wishes: HarpWishes = HarpWishes()  # noqa: RUF009 (a frozen value)
    harps: tuple[Harp, ...] | None = None


@dataclass(frozen=True, slots=True)
class BookPlan:
    """A whole book. The words are as in `reedwright.page.book.model.BookContent`.

    `base_address`: of the web site with its sound, empty for none. `by`: `own` for the chapters as
    they stand, or type, grade, key or harp, by which the tunes of all of them are put into chapters
    when they are arranged. `order` of the tunes in a chapter: given, title or grade. `fewest`: the
    tunes that name no harp share as few as can be.
    """

    title: str
    chapters: tuple[PlannedChapter, ...]
    subtitle: str = ""
    maker: str = ""
    preface: tuple[str, ...] = ()
    imprint: tuple[str, ...] = ()
    rights: str = ""
    credits: tuple[str, ...] = ()
    base_address: str = ""
    look: BookLook = field(default_factory=BookLook)
    by: str = "own"
    order: str = "given"
    fewest: FewestHarps | None = None

    @property
    def tunes(self) -> tuple[PlannedTune, ...]:
        return tuple(tune for chapter in self.chapters for tune in chapter.tunes)
