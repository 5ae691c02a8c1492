"""The shelf searched: by words, by what a tune is, by how it goes, or by all of these at once.

Public: `search`.

What a tune is are conditions in SQL; words are asked of the index of words; both together say among
which tunes notes are looked for. Tunes found by music stand in the order in which they fit, by
words the likeliest first, others by their title.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from reedwright.harp.model import Harp
from reedwright.shelf.finding.filtering import Condition, conditions_of, pitch_bits
from reedwright.shelf.finding.known import known_of
from reedwright.shelf.finding.model import Answer, Hit, Wanted
from reedwright.shelf.finding.musical import Fitting, musical
from reedwright.shelf.finding.worded import worded
from reedwright.shelf.keeping.shelf import Shelf

_AT_ONCE = 500  # tunes told of with one question


def search(shelf: Shelf, wanted: Wanted) -> Answer:
    """The tunes on the shelf that are wanted.

    Facts are those of the last time that they were worked out (`facts.keeping.refresh`). By
    music, `count` is at most the number of tunes that are looked for (`musical.MOST`).

    Raises `ShelfError` for what cannot be understood, `NotOnShelf` for a list or a tune that is not
    there, `NotFindable` for notes or signs that cannot be read.
    """
    known = known_of(shelf)
    guessed: dict[str, str] = {}
    conditions = conditions_of(shelf, wanted, known.types if wanted.types else (), guessed)
    by_words = worded(known, wanted.words, wanted.fields, conditions)
    if by_words is not None:
        guessed |= by_words.guessed
    page = slice(wanted.offset, wanted.offset + wanted.limit)
    if wanted.notes.strip() or wanted.contour.strip() or wanted.like is not None:
        among = None if by_words is None else by_words.items
        if among is None and len(conditions) > 1:
            among = np.array(_items(shelf, conditions, ""), dtype=np.int64)
        found = musical(shelf, known.melodies, wanted, among)
        return Answer(_hits(shelf, wanted, found[page]), len(found), guessed)
    if by_words is not None:
        items = by_words.items[page].tolist()
        count = len(by_words.items)
    else:
        order = f"ORDER BY s.sort, s.item LIMIT {int(wanted.limit)} OFFSET {int(wanted.offset)}"
        items = _items(shelf, conditions, order)
        count = _count(shelf, conditions)
    return Answer(_hits(shelf, wanted, [Fitting(item, 0.0) for item in items]), count, guessed)


def _where(conditions: Sequence[Condition]) -> tuple[str, list[object]]:
    values = [value for each in conditions for value in each.values]
    return " AND ".join(each.sql for each in conditions), values


def _items(shelf: Shelf, conditions: Sequence[Condition], order: str) -> list[int]:
    where, values = _where(conditions)
    rows = shelf.db.execute(f"SELECT s.item FROM sought AS s WHERE {where} {order}", values)
    return [int(row[0]) for row in rows]


def _count(shelf: Shelf, conditions: Sequence[Condition]) -> int:
    where, values = _where(conditions)
    row = shelf.db.execute(f"SELECT count(*) FROM sought AS s WHERE {where}", values).fetchone()
    return int(row[0])


def _hits(shelf: Shelf, wanted: Wanted, found: Sequence[Fitting]) -> tuple[Hit, ...]:
    hits: dict[int, Hit] = {}
    fitted = {each.item: each for each in found}
    order = list(fitted)
    bits = _harp_bits(wanted)
    by_music = bool(wanted.notes.strip() or wanted.contour.strip() or wanted.like is not None)
    for at in range(0, len(order), _AT_ONCE):
        asked = order[at : at + _AT_ONCE]
        marks = ", ".join("?" * len(asked))
        rows = shelf.db.execute(
            "SELECT fact.item, title, type, key, metre, composer, pitches_low, pitches_high, "
            "grade.grade FROM fact LEFT JOIN grade ON grade.item = fact.item AND "
            f"grade.player = ? AND grade.state = fact.state WHERE fact.item IN ({marks})",
            (wanted.player, *asked),
        )
        for item, title, kind, key, metre, composer, low, high, grade in rows:
            fitting = fitted[item]
            hits[item] = Hit(
                item,
                title,
                kind,
                key,
                metre,
                composer,
                grade,
                fitting.score if by_music else None,
                fitting.difference,
                fitting.bars,
                tuple(name for name, pairs in bits.items() if _plays(pairs, low, high)),
            )
    return tuple(hits[item] for item in order if item in hits)


def _harp_bits(wanted: Wanted) -> Mapping[str, list[tuple[int, int]]]:
    def of(harp: Harp) -> list[tuple[int, int]]:
        return [pitch_bits(harp, octaves) for octaves in wanted.octaves]

    return {harp.name: of(harp) for harp in wanted.plain_on}


def _plays(pairs: Sequence[tuple[int, int]], low: int, high: int) -> bool:
    return bool(low or high) and any(not low & ~a and not high & ~b for a, b in pairs)
