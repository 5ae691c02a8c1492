"""Which tunes of the shelf may be settings of one tune.

A tune is compared with all others when it comes to the shelf and when its notes change. What is
found is only offered; what somebody has judged stays judged.

Public: `find_likenesses`, `not_compared`, `each_pair_once`.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence, Set
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import numpy as np

from reedwright.processes import cores
from reedwright.shelf.facts.crew import in_order
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.likenesses.comparing import (
    Found,
    ToCompare,
    candidates_by,
    compared_by,
    likes,
    sketch_from,
    sketches_from,
)
from reedwright.shelf.likenesses.model import RULES, Verdict
from reedwright.shelf.likenesses.namesakes import folded, namesakes
from reedwright.tune.likeness.pairing import nearest_among, own_codes
from reedwright.tune.likeness.sketches import Sketch, joined

Progress = Callable[[float, str], None]

MANY = 200
"""Tunes from which on sketches of all are made and further processes are started."""
CHUNK = 250  # tunes to a task, and to a transaction
# What is done by then, where there are many: shares of the time that 50,000 tunes took.
SKETCHING = 0.1
PREPARING = 0.35
_LIVE = (
    "FROM item JOIN fact ON fact.item = item.id AND fact.state = item.state "
    "WHERE item.kind = 'tune' AND item.removed = 0 "
)


class _Tune(NamedTuple):
    item: int
    state: int
    title: str


def not_compared(shelf: Shelf) -> list[int]:
    """Tunes that have not been compared with the others as they are now, in order."""
    rows = shelf.db.execute(
        "SELECT item.id " + _LIVE + "AND NOT EXISTS (SELECT 1 FROM compared WHERE "
        "compared.item = item.id AND compared.state = item.state AND compared.rules = ?) "
        "ORDER BY item.id",
        (RULES,),
    )
    return [int(row[0]) for row in rows]


def find_likenesses(
    shelf: Shelf, items: Sequence[int] | None = None, progress: Progress | None = None
) -> int:
    """Compare tunes with all others and offer what may be settings; returns how many new offers.

    `items`: these tunes; None: all that have not been compared as they are now. Facts must
    be up to date (`reedwright.shelf.facts.keeping.refresh`); a tune without facts is left out.
    What was done stays done where this is stopped, and the next call goes on.
    """
    asked = set(not_compared(shelf) if items is None else items)
    every = _every(shelf)
    wanted = [tune for tune in every if tune.item in asked]
    if not wanted:
        return 0
    many = len(wanted) >= MANY

    def tell(share: float) -> None:
        if progress is not None:
            progress(share, "looking for settings of one tune")

    compared = _many(shelf, every, wanted, tell) if many else _few(shelf, every, wanted)
    before = PREPARING if many else 0.0
    pairs: set[tuple[int, int]] = set()
    new = done = 0
    for tunes, runs, found in compared:
        with shelf.change():
            for tune, own, likenesses in zip(tunes, runs, found, strict=True):
                pairs.update(_ordered(tune.item, each.other) for each in likenesses)
                new += _keep(shelf, tune, own, likenesses, pairs)
        done += len(tunes)
        tell(before + (1 - before) * done / len(wanted))
    return new


def _every(shelf: Shelf) -> list[_Tune]:
    return [
        _Tune(int(row[0]), int(row[1]), str(row[2]))
        for row in shelf.db.execute(
            "SELECT item.id, item.state, fact.title " + _LIVE + "ORDER BY item.id"
        )
    ]


_Compared = tuple[Sequence[_Tune], list[bytes], list[list[Found]]]


def _few(shelf: Shelf, every: Sequence[_Tune], wanted: Sequence[_Tune]) -> Iterator[_Compared]:
    """One tune after the other, by the runs that are kept of those compared before."""

    @lru_cache(maxsize=1_000)
    def sketch_at(item: int) -> Sketch:
        return sketch_from(_melody(shelf, item))

    kept: dict[int, bytes] = {}
    called: dict[int, str] = {}
    for row in shelf.db.execute(
        "SELECT item, runs, called FROM compared WHERE rules = ?", (RULES,)
    ):
        kept[row[0]], called[row[0]] = row[1], row[2]
    for tune in wanted:
        kept[tune.item] = own_codes(sketch_at(tune.item).grams).astype("<u4").tobytes()
        called[tune.item] = folded(tune.title)
    among = [tune.item for tune in every if tune.item in kept]
    codes = np.frombuffer(b"".join(kept[item] for item in among), dtype="<u4")
    counts = np.array([len(kept[item]) // codes.itemsize for item in among], dtype=np.int64)
    same_name = {
        among[place]: {among[other] for other in others}
        for place, others in enumerate(namesakes([called[item] for item in among]))
        if others
    }
    for tune in wanted:
        sketch = sketch_at(tune.item)
        near = nearest_among(codes, counts, own_codes(sketch.grams))
        candidates = [among[place] for place in near]
        found = list(likes(tune.item, sketch, candidates, same_name.get(tune.item, ()), sketch_at))
        yield [tune], [kept[tune.item]], [found]


def _melody(shelf: Shelf, item: int) -> bytes:
    row = shelf.db.execute("SELECT melody FROM fact WHERE item = ?", (item,)).fetchone()
    return bytes(row[0]) if row is not None else b""


def _many(
    shelf: Shelf, every: Sequence[_Tune], wanted: Sequence[_Tune], tell: Callable[[float], None]
) -> Iterator[_Compared]:
    """All sketches are made once and put into files, from which processes read what they need."""
    workers = cores()
    chunks = (every[at : at + CHUNK] for at in range(0, len(every), CHUNK))
    melodies = ([_melody(shelf, tune.item) for tune in chunk] for chunk in chunks)
    parts = []
    for number, (_, part) in enumerate(in_order(sketches_from, melodies, workers), start=1):
        parts.append(part)
        tell(SKETCHING * number * CHUNK / (len(every) + CHUNK))
    sketches = joined(parts)
    place_of = {tune.item: place for place, tune in enumerate(every)}
    with tempfile.TemporaryDirectory(prefix="reedwright-") as folder:
        sketches.save(Path(folder))
        places = [place_of[tune.item] for tune in wanted]
        spans = list(_spans(places))
        near: dict[int, list[int]] = {}
        for (_, first, last), rows in in_order(
            candidates_by, ((folder, *span) for span in spans), workers
        ):
            near.update(zip(range(first, last), rows, strict=True))
            tell(SKETCHING + (PREPARING - SKETCHING) * len(near) / len(places))
        titled = namesakes([folded(tune.title) for tune in every])
        partners = each_pair_once(near)
        called = each_pair_once({place: titled[place] for place in places})
        tasks = (
            (folder, at, [ToCompare(partners[k], called[k]) for k in range(at, end)])
            for at, end in spans
        )
        for (_, first, asked), found in in_order(compared_by, tasks, workers):
            tunes = range(first, first + len(asked))
            yield (
                [every[at] for at in tunes],
                [own_codes(sketches[at].grams).astype("<u4").tobytes() for at in tunes],
                [[each._replace(other=every[each.other].item) for each in row] for row in found],
            )


def each_pair_once(near: Mapping[int, Sequence[int]]) -> dict[int, tuple[int, ...]]:
    """For each tune those it is to be compared with; of two that are both asked for, the
    first one does it, so that nothing is left to do once it is the second one's turn."""
    found: dict[int, set[int]] = {tune: set() for tune in near}
    for tune, others in near.items():
        for other in others:
            if other in near and other < tune:
                found[other].add(tune)
            elif other != tune:
                found[tune].add(other)
    return {tune: tuple(sorted(others)) for tune, others in found.items()}


def _spans(places: Iterable[int]) -> Iterator[tuple[int, int]]:
    """Runs of places that follow each other, at most `CHUNK` long: from, to (not itself)."""
    first = last = -1
    for place in places:
        if place == last and last - first < CHUNK:
            last += 1
            continue
        if last > first:
            yield first, last
        first, last = place, place + 1
    if last > first:
        yield first, last


def _keep(
    shelf: Shelf, tune: _Tune, runs: bytes, found: Sequence[Found], pairs: Set[tuple[int, int]]
) -> int:
    """Keep what a tune was found to be like, unless it was changed meanwhile; how many are new.

    `pairs` are those found so far, from this side or the other.
    """
    now = shelf.db.execute("SELECT state FROM item WHERE id = ?", (tune.item,)).fetchone()
    if now is None or now[0] != tune.state:
        return 0
    before = {
        int(row[0])
        for row in shelf.db.execute(
            "SELECT other FROM likeness WHERE one = ?1 UNION "
            "SELECT one FROM likeness WHERE other = ?1",
            (tune.item,),
        )
    }
    compared = shelf.db.execute(
        "SELECT state, rules FROM compared WHERE item = ?", (tune.item,)
    ).fetchone()
    if compared is not None and tuple(compared) != (tune.state, RULES):
        # What it was like before it was changed may be no longer so.
        shelf.db.executemany(
            "DELETE FROM likeness WHERE one = ? AND other = ? AND verdict = ?",
            [
                (*_ordered(tune.item, other), Verdict.OFFERED)
                for other in before
                if _ordered(tune.item, other) not in pairs
            ],
        )
    shelf.db.executemany(
        "INSERT INTO likeness (one, other, score, differs, rules) VALUES (?, ?, ?, ?, ?) "
        "ON CONFLICT (one, other) DO UPDATE SET score = excluded.score, "
        "differs = excluded.differs, rules = excluded.rules",
        [
            (*_ordered(tune.item, each.other), each.score, each.differs, RULES)
            for each in found
            if shelf.db.execute("SELECT 1 FROM item WHERE id = ?", (each.other,)).fetchone()
        ],
    )
    shelf.db.execute(
        "INSERT INTO compared (item, state, rules, runs, called) VALUES (?, ?, ?, ?, ?) "
        "ON CONFLICT (item) DO UPDATE SET state = excluded.state, rules = excluded.rules, "
        "runs = excluded.runs, called = excluded.called",
        (tune.item, tune.state, RULES, runs, folded(tune.title)),
    )
    return len({each.other for each in found} - before)


def _ordered(one: int, other: int) -> tuple[int, int]:
    return (one, other) if one < other else (other, one)
