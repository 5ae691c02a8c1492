"""Tunes put into chapters: by type, grade, key or harp, or as the plan has them; and their order.

Works on anything that says its title, type, key, harp and grade, such as
`reedwright.page.book.model.TuneEntry`.

Public: `chaptered`, `ordered`, `by_harp`, `GROUPS`, `ORDERS`, `Sortable`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from typing import Protocol, TypeVar

from reedwright.harp.naming import KEYS
from reedwright.page.book.indexes import sorted_title
from reedwright.tab.difficulty.scale import grade_word

GROUPS = ("own", "type", "grade", "key", "harp")
ORDERS = ("given", "title", "grade")

# The order of chapters by type: as most printed collections have them (common practice, no source).
TYPES = (
    "reel", "jig", "slip jig", "single jig", "double jig", "slide", "polka", "hornpipe",
    "barndance", "fling", "strathspey", "march", "set dance", "mazurka", "waltz", "air", "song",
)  # fmt: skip
OTHER_TUNES = "Other tunes"
NO_KEY = "No key"
_REGISTERS = ("low", "", "high")
_PLURALS_IN_ES = ("s", "x", "z", "ch", "sh")


class Sortable(Protocol):
    """What chapters and their order go by."""

    @property
    def title(self) -> str: ...
    @property
    def type(self) -> str: ...
    @property
    def key(self) -> str: ...
    @property
    def harp(self) -> str: ...
    @property
    def grade(self) -> float: ...


Each = TypeVar("Each", bound=Sortable)
_Place = tuple[float | str, ...]


def chaptered(tunes: Sequence[Each], by: str) -> list[tuple[str, tuple[Each, ...]]]:
    """The chapters' titles and tunes, both in order; within a chapter the tunes keep theirs.

    `by`: any of `GROUPS` but `own`.
    """
    place_and_title = _GROUPED[by]
    found: dict[tuple[_Place, str], list[Each]] = {}
    for tune in tunes:
        found.setdefault(place_and_title(tune), []).append(tune)
    return [(title, tuple(mine)) for (_, title), mine in sorted(found.items(), key=_by_place)]


def by_harp(tunes: Sequence[Each]) -> list[tuple[str, tuple[Each, ...]]]:
    """Each harp by its name with its tunes, in the order of chapters by harp."""
    return [(mine[0].harp, mine) for _, mine in chaptered(tunes, "harp")]


def _by_place(item: tuple[tuple[_Place, str], object]) -> tuple[_Place, str]:
    return item[0]


def ordered(tunes: Iterable[Each], by: str) -> tuple[Each, ...]:
    """By title (articles, accents and case do not count), by grade and then title, or as given."""
    if by == "title":
        return tuple(sorted(tunes, key=lambda tune: sorted_title(tune.title)))
    if by == "grade":
        return tuple(sorted(tunes, key=lambda tune: (tune.grade, sorted_title(tune.title))))
    return tuple(tunes)


def _type(tune: Sortable) -> tuple[_Place, str]:
    name = " ".join(re.split(r"[\s_-]+", tune.type.strip())).casefold()
    if name.removesuffix("s") in TYPES:
        name = name.removesuffix("s")
    if not name:
        return (2.0,), OTHER_TUNES
    if name in TYPES:
        return (0.0, float(TYPES.index(name))), _plural(name)
    return (1.0, name), _plural(name)


def _plural(name: str) -> str:
    """`Reels`, `Waltzes`, `Slip jigs`."""
    if name.endswith("s") and not name.endswith("ss"):
        many = name
    elif name.endswith("y") and name[-2:-1] not in "aeiou":
        many = f"{name[:-1]}ies"
    elif name.endswith(_PLURALS_IN_ES):
        many = f"{name}es"
    else:
        many = f"{name}s"
    return many[:1].upper() + many[1:]


def _grade(tune: Sortable) -> tuple[_Place, str]:
    if not tune.grade:
        return (99.0,), OTHER_TUNES
    word = grade_word(tune.grade)
    order = ("very easy", "easy", "moderate", "hard", "very hard")
    return (float(order.index(word)),), word[:1].upper() + word[1:]


def _key(tune: Sortable) -> tuple[_Place, str]:
    """By letter, naturals first, then the mode: a reader looks a key up."""
    named = re.match(r"([A-G])([#b♯♭]?)\s*(.*)", tune.key)
    if named is None:
        return (9.0,), tune.key or NO_KEY
    sign = {"": 0, "b": 1, "♭": 1, "#": 2, "♯": 2}[named[2]]
    mode = named[3].casefold()
    rank = {"": 0, "major": 0, "minor": 1}.get(mode, 2)
    return (0.0, named[1], float(sign), float(rank), mode), tune.key


def _harp(tune: Sortable) -> tuple[_Place, str]:
    """From the low harps up, in a register as the trade orders them; then by tuning and valves."""
    if not tune.harp:
        return (float(len(_REGISTERS) + 1),), OTHER_TUNES
    words, _, rest = tune.harp.partition(" harp")
    register, _, key = words.rpartition(" ")
    at = KEYS.index(key) if key in KEYS else len(KEYS)
    rank = _REGISTERS.index(register) if register in _REGISTERS else len(_REGISTERS)
    return (float(rank), float(at), rest), tune.harp[:1].upper() + tune.harp[1:]


_GROUPED: dict[str, Callable[[Sortable], tuple[_Place, str]]] = {
    "type": _type,
    "grade": _grade,
    "key": _key,
    "harp": _harp,
}
