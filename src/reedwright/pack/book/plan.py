"""A book planned: in a file, or from a list of tunes.

docs/book.md describes the file. Public: `read_plan`, `ReadPlan`, `plan_of`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.folders.names import unused_file_name
from reedwright.harp.making import REGISTERS, parse_harp
from reedwright.harp.model import Harp
from reedwright.pack.book.asked import (
    ALL,
    FEWEST,
    OWNED,
    Asked,
    AskedChapter,
    AskedTune,
    Overrides,
)
from reedwright.pack.book.asking import read_asked
from reedwright.pack.book.beside import ChoicesBeside
from reedwright.pack.book.model import BookPlan, FewestHarps, PlannedChapter, PlannedTune
from reedwright.pack.book.plantable import PlanError
from reedwright.pack.book.pool import (
    LIBRARY_PREFIX,
    NO_LIBRARY,
    Library,
    Named,
    NotFound,
    Pool,
)
from reedwright.pack.book.settling import PAGES_OF_SITES, Usual, both, settle
from reedwright.page.book.model import BookLook
from reedwright.player.loading import load_profile
from reedwright.player.profile import Profile
from reedwright.tab.choices import TuneChoices
from reedwright.tab.owned.harps import owned_by
from reedwright.tab.sets.wishes import HarpWishes, Limit, SetsError
from reedwright.tune.model import Tune

DEFAULT_PLAYER = "player"

_Wanted = tuple[Tune, Overrides, str]  # a tune, what is said of it there, where (for messages)


class ReadPlan(NamedTuple):
    """A plan, and what could not be read or found, a sentence each."""

    plan: BookPlan
    notices: tuple[str, ...]


def read_plan(path: Path, library: Library = NO_LIBRARY, strict: bool = False) -> ReadPlan:
    """The book that a file plans. Of tunes and files that cannot be read or found is told, and the
    rest goes on; with `strict` they are an error.

    `library`: for tunes that are not in files. Raises `PlanError` with file and line for a plan
    that cannot be used, `ProfileError`, `OwnedHarpError`.
    """
    asked = read_asked(path)
    notices: list[str] = []
    plan = _Planning(asked, library, notices.append).plan()
    if strict and notices:
        raise PlanError("\n".join(notices))
    return ReadPlan(plan, tuple(notices))


def plan_of(
    tunes: Sequence[Tune],
    title: str,
    usual: Usual,
    choices: Callable[[Tune], TuneChoices | None] = lambda tune: None,
    by: str = "own",
    order: str = "given",
    look: BookLook | None = None,
    maker: str = "",
    subtitle: str = "",
) -> BookPlan:
    """A plan for these tunes in this order, in one chapter or in those that `by` makes.

    `usual.harps`: None for every harp. Raises `ChoicesError` and what `settle` raises.
    """
    names = set(PAGES_OF_SITES)
    planned = tuple(
        settle(_name(tune, names), tune, Overrides(), choices(tune), usual) for tune in tunes
    )
    return BookPlan(
        title=title,
        chapters=(PlannedChapter("", planned),),
        subtitle=subtitle,
        maker=maker,
        base_address=usual.base_address,
        look=look or BookLook(),
        by=by,
        order=order,
    )


def _name(tune: Tune, names: set[str]) -> str:
    name = unused_file_name(tune.title, tune.number, names)
    names.add(name)
    return name


class _Planning:
    """From what a plan's file asks for to the plan."""

    def __init__(self, asked: Asked, library: Library, tell: Callable[[str], None]) -> None:
        self.asked, self.library = asked, library
        self.folder = asked.path.parent
        self.pool = Pool(self.folder, library, tell)
        player = self._profile(asked.player or DEFAULT_PLAYER)
        self.usual = Usual(
            player,
            self._harps(player),
            asked.amount,
            asked.second_time,
            asked.base_address,
            cache(self._profile),
        )
        self.beside = ChoicesBeside(())
        self.names = set(PAGES_OF_SITES)

    def plan(self) -> BookPlan:
        asked = self.asked
        tunes = self.pool.of_places(asked.sources, asked.source_lines)
        if asked.search is not None:
            tunes += self._searched(asked.search, str(asked.path))
        named = Named(tunes)
        special: dict[int, Overrides] = {}
        for tune, said, _ in self._named(asked.special, named):
            special[id(tune)] = both(special.get(id(tune), Overrides()), said)
        chapters = []
        for each in asked.chapters:
            wanted = self._of_chapter(each, named)
            chapters.append(PlannedChapter(each.title, self._settled(wanted, special), each.words))
        if not asked.chapters:
            everything = [(tune, Overrides(), "") for tune in tunes]
            wanted = everything if asked.tunes is None else self._named(asked.tunes, named)
            chapters.append(PlannedChapter("", self._settled(wanted, special)))
        if not any(chapter.tunes for chapter in chapters):
            self.pool.tell(str(asked.path), "the plan comes to no tunes; name files in 'sources'")
        return BookPlan(
            title=asked.title,
            chapters=tuple(chapters),
            subtitle=asked.subtitle,
            maker=asked.maker,
            preface=asked.preface,
            imprint=asked.imprint,
            rights=asked.rights,
            credits=asked.credits,
            base_address=asked.base_address,
            look=asked.look,
            by=asked.by,
            order=asked.order,
            fewest=self._fewest(),
        )

    def _profile(self, name: str) -> Profile:
        """By name, or from a file beside the plan."""
        beside = self.folder / name
        return load_profile(beside if name.endswith(".toml") and beside.is_file() else name)

    def _harps(self, player: Profile) -> tuple[Harp, ...] | None:
        """The harps to choose from; None for all."""
        said = self.asked.harps
        if isinstance(said, tuple):
            return self._read(said, "harps") or None
        if said in (ALL, FEWEST):
            return None
        owned = owned_by(player)
        if said == OWNED and owned is None:
            raise PlanError(
                f"{self.asked.path}: 'harps' is \"owned\", and the profile '{player.name}' "
                "lists no harps; list them here, or in the profile"
            )
        return owned

    def _read(self, texts: Sequence[str], key: str) -> tuple[Harp, ...]:
        try:
            return tuple(dict.fromkeys(parse_harp(text) for text in texts))
        except ReedwrightError as error:
            raise PlanError(f"{self.asked.path}, '{key}': {error}") from None

    def _fewest(self) -> FewestHarps | None:
        said = self.asked.fewest
        if said is None:
            return None
        owned = owned_by(self.usual.player) if said.owned is None else None
        try:
            return FewestHarps(
                Limit(said.effort, said.above_best, said.no_bends),
                HarpWishes(
                    owned=owned or self._read(said.owned or (), "owned"),
                    owned_counts=said.owned_counts,
                    must=self._read(said.must, "must"),
                    never=self._read(said.never, "never"),
                    odd=said.odd,
                    most_odd=said.most_odd,
                    registers=said.registers or tuple(REGISTERS),
                    most=said.most,
                ),
                self._read(said.harps, "harps") or None,
            )
        except SetsError as error:
            raise PlanError(f"{self.asked.path}, [fewest]: {error}") from None

    def _searched(self, wanted: Mapping[str, object], where: str) -> list[Tune]:
        try:
            return list(self.library.search(wanted))
        except ReedwrightError as error:
            # Not told and passed over: what was left would be quite another book.
            raise PlanError(f"{where}: search: {error}") from None

    def _of_chapter(self, chapter: AskedChapter, named: Named) -> list[_Wanted]:
        tunes: list[Tune] = []
        if chapter.file:
            tunes += self.pool.of_places([chapter.file], [chapter.where])
        if chapter.search is not None:
            tunes += self._searched(chapter.search, chapter.where)
        if chapter.tunes is None:
            return [(tune, Overrides(), chapter.where) for tune in tunes]
        looked_in = Named(tunes) if chapter.file or chapter.search is not None else named
        return self._named(chapter.tunes, looked_in)

    def _named(self, asked: Sequence[AskedTune], named: Named) -> list[_Wanted]:
        """The tunes that a list names; what is not found is told."""
        found: list[_Wanted] = []
        for each in asked:
            try:
                if each.tune.startswith(LIBRARY_PREFIX):
                    tunes = list(self.library.named(each.tune))
                elif each.file:
                    tunes = [self._in_file(each.file).find(each.tune, each.number)]
                else:
                    tunes = [named.find(each.tune, each.number)]
            except ReedwrightError as error:
                self.pool.tell(each.where, str(error))
                continue
            found += [(tune, each.overrides, each.where) for tune in tunes]
        return found

    @cache  # noqa: B019 (a planning lives as long as one plan is read)
    def _in_file(self, file: str) -> Named:
        tunes = self.pool.of_places([file], [str(self.asked.path)])
        if not tunes:
            raise NotFound(f"no tune can be read from {file}")
        return Named(tunes)

    def _settled(
        self, wanted: Sequence[_Wanted], special: Mapping[int, Overrides]
    ) -> tuple[PlannedTune, ...]:
        self.beside.know(self.pool.tunes_beside(tune for tune, _, _ in wanted))
        found = []
        for tune, said, where in wanted:
            said = both(said, special.get(id(tune), Overrides()))
            try:
                choices = self._choices(tune, said)
                found.append(settle(_name(tune, self.names), tune, said, choices, self.usual))
            except ReedwrightError as error:
                self.pool.tell(where or str(self.asked.path), f"{tune.title}: {error}")
        return tuple(found)

    def _choices(self, tune: Tune, said: Overrides) -> TuneChoices | None:
        """What was decided about the tune: in a file that is named, in the one beside its tunebook,
        or in the library."""
        if said.choices is False or (said.choices is None and not self.asked.choices):
            return None
        kept = None if isinstance(said.choices, Path) else self.library.choices(tune)
        if kept is not None:
            return kept
        named = said.choices if isinstance(said.choices, Path) else None
        return self.beside.of(tune, named)
