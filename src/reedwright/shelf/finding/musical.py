"""Tunes by how they go: notes, ups and downs, or a tune that they are like.

Public: `musical`, `Fitting`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from reedwright.shelf.facts.melodies import unpacked
from reedwright.shelf.finding.melodies import Melodies
from reedwright.shelf.finding.model import Wanted
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import NotOnShelf, ShelfError
from reedwright.tune.likeness.contour import find_contour
from reedwright.tune.likeness.finding import AS_TYPED, Ranked, ranked_any
from reedwright.tune.likeness.model import Difference, Match
from reedwright.tune.likeness.typed import typed_queries
from reedwright.tune.likeness.whole import alike

MOST = 100
"""Tunes that are looked for by music: what fits worse than a hundred others is not it."""
MOST_EVER = 1_000  # even where all that is found is wanted
LEAST_ALIKE = 0.2  # score of `alike`, under which tunes have no more in common than any two

Items = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Fitting:
    """A tune, how well it fits, what differs, and the printed bars where it does."""

    item: int
    score: float
    difference: Difference | None = None
    bars: tuple[int, int] | None = None


def musical(shelf: Shelf, melodies: Melodies, wanted: Wanted, among: Items | None) -> list[Fitting]:
    """The tunes that fit, the best first; `among`: numbers of those that may be found.

    Raises `NotFindable` for notes or signs that cannot be read, `NotOnShelf`, and `ShelfError`
    where more than one of the three is asked for.
    """
    asked = [bool(wanted.notes.strip()), bool(wanted.contour.strip()), wanted.like is not None]
    if sum(asked) > 1:
        raise ShelfError(
            "Look for notes, for a contour, or for tunes like one; not for two at once."
        )
    most = max(MOST, min(MOST_EVER, wanted.offset + wanted.limit))
    if wanted.like is not None:
        # Each tune that is told costs a comparison or two, so no more are looked at than are asked
        # for (and the tune itself).
        told = wanted.offset + wanted.limit + 1
        return _like(shelf, melodies, wanted.like, min(MOST_EVER, told), among)
    queries = typed_queries(wanted.notes, wanted.notes_key) if asked[0] else ()
    ranked: list[tuple[float, Fitting]] = []
    for part, live in zip(melodies.parts, melodies.live, strict=True):
        allowed = part.allowed(among, live)
        if asked[0]:
            found = ranked_any(part.collection, queries, most, AS_TYPED, allowed)
        else:
            signs = find_contour(part.collection, wanted.contour, most, allowed)
            found = [Ranked(-match.score, match) for match in signs]
        ranked += [
            (each.rank, _fitting(each.match, int(part.items[each.match.index]))) for each in found
        ]
    # Stable: of equal contours those that begin something stay before the others.
    return [fitting for _, fitting in sorted(ranked, key=lambda each: each[0])][:most]


def _fitting(match: Match, item: int) -> Fitting:
    return Fitting(item, match.score, match.difference, (match.first_bar, match.last_bar))


def _like(
    shelf: Shelf, melodies: Melodies, like: int, most: int, among: Items | None
) -> list[Fitting]:
    row = shelf.db.execute("SELECT melody FROM fact WHERE item = ?", (like,)).fetchone()
    if row is None:
        raise NotOnShelf(f"There is no tune {like} on the shelf that others could be like.")
    melody = unpacked(row[0])
    found: list[Fitting] = []
    for part, live in zip(melodies.parts, melodies.live, strict=True):
        allowed = part.allowed(among, live)
        for index, score in alike(part.collection, melody, most, allowed):
            item = int(part.items[index])
            if item != like and score >= LEAST_ALIKE:
                found.append(Fitting(item, score))
    return sorted(found, key=lambda each: (-each.score, each.item))[:most]
