"""What a tune must be, as conditions on table `sought` (`s`) of the shelf.

Public: `Condition`, `conditions_of`, `pitch_bits`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from reedwright.datafiles import did_you_mean
from reedwright.harp.model import Harp, Technique
from reedwright.shelf.finding.folding import fold, words_in
from reedwright.shelf.finding.model import Wanted
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Kind, NotOnShelf, Role, ShelfError
from reedwright.tune.abc.keys import MODE_STARTS, read_key

FIRST_HIGH = 63  # the MIDI note of bit 0 of `pitches_high`
TOP = 125  # stands for all notes from there on, which no harp has
_ALL = 2**63 - 1

# What else goes by the name of a type: jigs in 6/8 (common practice, no source).
ALSO = {"jig": ("doublejig", "singlejig")}
COMMON_TIME = {"c": "4/4", "c|": "2/2"}  # ABC 2.1, section 3.1.6


class Condition(NamedTuple):
    """SQL that must be true, and the values of its question marks."""

    sql: str
    values: tuple[object, ...] = ()


def conditions_of(
    shelf: Shelf, wanted: Wanted, types: Sequence[str], guessed: dict[str, str]
) -> list[Condition]:
    """All conditions; that the tune is on the shelf is the first. `types`: those on the shelf;
    `guessed` is added to.

    Raises `ShelfError` for what cannot be understood, `NotOnShelf` for a list that is not there.
    """
    found = [Condition("s.removed = 0")]
    if wanted.types:
        found.append(_any_of("s.type", _types(wanted.types, types, guessed)))
    if wanted.keys:
        found.append(_either([_key(key) for key in wanted.keys]))
    if wanted.modes:
        found.append(_any_of("s.mode", [_mode(mode) for mode in wanted.modes]))
    if wanted.metres:
        found.append(_any_of("s.metre", [_metre(metre) for metre in wanted.metres]))
    if wanted.lowest is not None:
        found.append(Condition("s.lowest >= ?", (max(1, wanted.lowest),)))
    if wanted.highest is not None:
        found.append(Condition("s.highest BETWEEN 1 AND ?", (wanted.highest,)))
    if wanted.plain_on:
        found.append(_plain(wanted.plain_on, wanted.octaves))
    if wanted.grades is not None:
        found.append(_graded(shelf, wanted.player, wanted.grades))
    if wanted.taught is not None:
        found.append(Condition(f"s.item {'' if wanted.taught else 'NOT '}IN ({_ON})", _LESSONS))
    if wanted.taught_to:
        found.append(_linked(_lessons_to(shelf, wanted.taught_to)))
    if wanted.in_list:
        found.append(_linked(_lists_called(shelf, wanted.in_list)))
    return found


def pitch_bits(harp: Harp, octaves: int = 0) -> tuple[int, int]:
    """The notes that a harp has without bends, as the bits of `pitches_low` and `pitches_high`,
    of the tune as written that is then moved by `octaves`."""
    low = high = 0
    for sounding in harp.soundings:
        midi = sounding.midi - 12 * octaves
        if sounding.technique is not Technique.NATURAL or not 0 <= midi < TOP:
            continue
        if midi < FIRST_HIGH:
            low |= 1 << midi
        else:
            high |= 1 << midi - FIRST_HIGH
    return low, high


def _any_of(column: str, values: Sequence[str]) -> Condition:
    return Condition(f"{column} IN ({', '.join('?' * len(values))})", tuple(values))


def _either(conditions: Sequence[Condition]) -> Condition:
    return Condition(
        f"({' OR '.join(each.sql for each in conditions)})",
        tuple(value for each in conditions for value in each.values),
    )


def _types(wanted: Sequence[str], known: Sequence[str], guessed: dict[str, str]) -> list[str]:
    by_name: dict[str, list[str]] = {}
    for each in known:
        for name in _names(each):
            by_name.setdefault(name, []).append(each)
    found: list[str] = []
    for each in wanted:
        name = _type(each)
        names = [one for one in (name, *ALSO.get(name, ())) if one in by_name]
        if not names and (near := _near_type(name, list(by_name))):
            guessed[each] = by_name[near][0]
            names = [near]
        found += [one for name in names for one in by_name[name]]
    return list(dict.fromkeys(found))


@lru_cache(maxsize=50_000)  # each search asks for all types that are on the shelf
def _names(written: str) -> frozenset[str]:
    """What a type goes by: as a whole, and its parts."""
    return frozenset({_type(written), *(_type(part) for part in re.split("[,;/]", written))})


def _near_type(name: str, known: Sequence[str]) -> str:
    from reedwright.shelf.finding.forgiving import Vocabulary, nearest

    near = nearest(name, Vocabulary(known, [1] * len(known)))
    return near[0] if near else ""


def _type(text: str) -> str:
    """One word, in the singular."""
    joined = "".join(words_in(text))
    return joined[:-1] if joined.endswith("s") and not joined.endswith("ss") else joined


def _key(text: str) -> Condition:
    wanted = " ".join(text.split())
    if fold(wanted) == "none":
        return Condition("s.tonic = -1")
    read = read_key(wanted[:1].upper() + wanted[1:])
    if not wanted or read is None or read.key is None or read.key.mode in ("none", "highland"):
        raise ShelfError(
            f"'{text}' is not a key; write G for any mode, or 'G major', 'E dorian', 'Am', 'Bb'."
        )
    tonic = read.key.tonic_pitch_class
    if read.key.mode == "major" and not re.search("(?i)maj|ion", wanted):
        return Condition("s.tonic = ?", (tonic,))
    return Condition("(s.tonic = ? AND s.mode = ?)", (tonic, read.key.mode))


def _mode(text: str) -> str:
    name = fold(text).strip()
    if name in ("none", "highland"):
        return name
    mode = MODE_STARTS.get(name[:3])
    if mode is None:
        known = sorted(set(MODE_STARTS.values()))
        raise ShelfError(
            f"'{text}' is not a mode{did_you_mean(name, known) or '; use ' + ', '.join(known)}."
        )
    return mode


def _metre(text: str) -> str:
    bare = "".join(text.split()).lower()
    found = COMMON_TIME.get(bare, bare)
    if found != "none" and not re.fullmatch(r"[\d+()]+/\d+", found):
        raise ShelfError(f"'{text}' is not a metre; write 6/8, 4/4, 9/8 or none.")
    return found


def _plain(harps: Sequence[Harp], octaves: Sequence[int]) -> Condition:
    bits = dict.fromkeys(pitch_bits(harp, octave) for harp in harps for octave in octaves)
    each = [
        Condition("(s.pitches_low & ? = 0 AND s.pitches_high & ? = 0)", (_ALL ^ low, _ALL ^ high))
        for low, high in bits
    ]
    either = _either(each)
    return Condition(f"s.highest > 0 AND {either.sql}", either.values)


def _graded(shelf: Shelf, player: str, grades: tuple[float, float]) -> Condition:
    known = shelf.db.execute("SELECT 1 FROM grade WHERE player = ? LIMIT 1", (player,)).fetchone()
    if known is None:
        raise ShelfError(
            f"No tune has a grade for '{player}' yet; work them out first: reedwright shelf grade."
        )
    return Condition(
        "EXISTS (SELECT 1 FROM grade WHERE grade.item = s.item AND grade.player = ? "
        "AND grade.state = s.state AND grade.grade BETWEEN ? AND ?)",
        (player, *grades),
    )


_ON = (
    "SELECT link.to_item FROM link JOIN item ON item.id = link.item "
    "WHERE link.role = ? AND item.kind = ? AND item.removed = 0"
)
_LESSONS = (Role.ON, Kind.LESSON)


def _linked(items: Sequence[int]) -> Condition:
    marks = ", ".join("?" * len(items))
    return Condition(
        f"s.item IN (SELECT to_item FROM link WHERE role = ? AND item IN ({marks}))",
        (Role.ON, *items),
    )


def _named(shelf: Shelf, kind: Kind) -> list[tuple[int, str]]:
    rows = shelf.db.execute("SELECT id, name FROM item WHERE kind = ? AND removed = 0", (kind,))
    return [(int(row[0]), str(row[1])) for row in rows]


def _lessons_to(shelf: Shelf, whom: str) -> list[int]:
    words = set(words_in(whom))
    return [item for item, name in _named(shelf, Kind.LESSON) if words <= set(words_in(name))]


def _lists_called(shelf: Shelf, name: str) -> list[int]:
    every = _named(shelf, Kind.LIST)
    wanted = words_in(name)
    found = [item for item, called in every if words_in(called) == wanted]
    found = found or [item for item, _ in every if name.strip() == str(item)]
    if not found:
        hint = did_you_mean(name, [called for _, called in every])
        raise NotOnShelf(f"There is no list called '{name}' on the shelf{hint or '.'}")
    return found
