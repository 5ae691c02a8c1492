"""What somebody says of tunes that were offered as settings of one tune.

Accepted ones form groups: whoever is a setting of a setting is one, too. Nothing is merged, and
everything that was said can be taken back, the last first.

Public: `offers`, `count_offers`, `accept`, `refuse`, `offer_again`, `take_back`, `any_said`,
`settings_of`, `groups`, `decisions`.
"""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from itertools import islice

from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.likenesses.comparing import read_back, sketch_from, written
from reedwright.shelf.likenesses.model import RULES, NotAPair, Offer, Verdict
from reedwright.shelf.model import Kind, ShelfError
from reedwright.tune.likeness.differing import differing
from reedwright.tune.likeness.sameness import OFFERED as LIKE_ENOUGH
from reedwright.tune.likeness.sameness import compare

NOT_OFFERED = ""  # in place of a verdict before the first
FEW = 1_000  # offers that are given where the caller does not say how many

_OFFERS = (
    "SELECT likeness.*, a.name AS title, b.name AS other_title FROM likeness "
    "JOIN item AS a ON a.id = likeness.one JOIN item AS b ON b.id = likeness.other "
    "WHERE a.removed = 0 AND b.removed = 0 AND likeness.verdict = ? "
)


def offers(shelf: Shelf, item: int | None = None, limit: int = FEW) -> tuple[Offer, ...]:
    """Pairs that nobody has judged yet, the likest first; of one tune where `item` is said.

    Two tunes that are in one group already are not offered to each other.
    """
    return tuple(islice(_offers(shelf, item), limit))


def count_offers(shelf: Shelf, item: int | None = None) -> int:
    """How many pairs nobody has judged yet."""
    return sum(1 for _ in _rows(shelf, item))


def _offers(shelf: Shelf, item: int | None) -> Iterator[Offer]:
    return (_offer(row) for row in _rows(shelf, item))


def _rows(shelf: Shelf, item: int | None) -> Iterator[sqlite3.Row]:
    which = ""
    values: list[object] = [Verdict.OFFERED]
    if item is not None:
        which = "AND ? IN (likeness.one, likeness.other) "
        values.append(item)
    group_of = {each: number for number, group in enumerate(groups(shelf)) for each in group}
    for row in shelf.db.execute(
        _OFFERS + which + "ORDER BY likeness.score DESC, likeness.one, likeness.other",
        values,
    ):
        if group_of.get(row["one"], -1) != group_of.get(row["other"], -2):
            yield row


def _offer(row: sqlite3.Row) -> Offer:
    return Offer(
        row["one"],
        row["other"],
        row["title"],
        row["other_title"],
        row["score"],
        read_back(row["differs"]),
        Verdict(row["verdict"]),
    )


def accept(shelf: Shelf, one: int, *others: int) -> None:
    """They are settings of one tune, offered or not. Raises `NotAPair`, `NotOnShelf`."""
    _judge(shelf, ((one, other) for other in others), Verdict.SETTINGS)


def refuse(shelf: Shelf, one: int, *others: int) -> None:
    """The first is another tune than the others; they are not offered to it again."""
    _judge(shelf, ((one, other) for other in others), Verdict.OTHER_TUNES)


def offer_again(shelf: Shelf, one: int, *others: int) -> None:
    """As if nobody had said anything of them."""
    _judge(shelf, ((one, other) for other in others), Verdict.OFFERED)


def any_said(shelf: Shelf) -> bool:
    """Whether anything was said that could be taken back."""
    return shelf.db.execute("SELECT 1 FROM judged LIMIT 1").fetchone() is not None


def take_back(shelf: Shelf) -> tuple[tuple[int, int], ...]:
    """Take back what was said last; returns the pairs. Raises `ShelfError` where nothing was."""
    with shelf.change():
        rows = shelf.db.execute(
            "SELECT number, one, other, before FROM judged "
            "WHERE step = (SELECT max(step) FROM judged) ORDER BY number DESC"
        ).fetchall()
        if not rows:
            raise ShelfError("Nothing was said of settings yet: there is nothing to take back.")
        for row in rows:
            pair = (row["one"], row["other"])
            if row["before"] == NOT_OFFERED:
                # Tunes that were compared meanwhile are not compared again, so what is like
                # enough has to stay as an offer.
                shelf.db.execute(
                    "DELETE FROM likeness WHERE one = ? AND other = ? AND score < ?",
                    (*pair, LIKE_ENOUGH),
                )
                shelf.db.execute(
                    "UPDATE likeness SET verdict = ? WHERE one = ? AND other = ?",
                    (Verdict.OFFERED, *pair),
                )
            else:
                shelf.db.execute(
                    "UPDATE likeness SET verdict = ? WHERE one = ? AND other = ?",
                    (row["before"], *pair),
                )
            shelf.db.execute("DELETE FROM judged WHERE number = ?", (row["number"],))
    return tuple((row["one"], row["other"]) for row in rows)


def _judge(shelf: Shelf, pairs: Iterable[tuple[int, int]], verdict: Verdict) -> None:
    at = datetime.now(UTC).isoformat(timespec="milliseconds")
    with shelf.change():
        step = shelf.db.execute("SELECT coalesce(max(step), 0) + 1 FROM judged").fetchone()[0]
        for first, second in pairs:
            one, other = min(first, second), max(first, second)
            before = _verdict(shelf, one, other)
            if before == verdict:
                continue
            shelf.db.execute(
                "UPDATE likeness SET verdict = ? WHERE one = ? AND other = ?",
                (verdict, one, other),
            )
            shelf.db.execute(
                "INSERT INTO judged (step, at, one, other, before, after) "
                "VALUES (?, ?, ?, ?, ?, ?)",
                (step, at, one, other, before, verdict),
            )


def _verdict(shelf: Shelf, one: int, other: int) -> str:
    """The verdict so far; a pair that was never offered is compared and written down now."""
    found = shelf.db.execute(
        "SELECT verdict FROM likeness WHERE one = ? AND other = ?", (one, other)
    ).fetchone()
    if found is not None:
        return Verdict(found[0])
    tunes = [shelf.item(item) for item in (one, other)]
    if one == other or any(tune.kind is not Kind.TUNE for tune in tunes):
        raise NotAPair(
            f"{one} and {other} are not two tunes of the shelf. Say the numbers of two tunes."
        )
    melodies = [
        shelf.db.execute("SELECT melody FROM fact WHERE item = ?", (item,)).fetchone()
        for item in (one, other)
    ]
    ours, theirs = (sketch_from(bytes(row[0]) if row is not None else b"") for row in melodies)
    same = compare(ours, theirs)
    shelf.db.execute(
        "INSERT INTO likeness (one, other, score, differs, rules) VALUES (?, ?, ?, ?, ?)",
        (one, other, same.score, written(differing(ours, theirs, same)), RULES),
    )
    return NOT_OFFERED


def settings_of(shelf: Shelf, item: int) -> tuple[int, ...]:
    """The other tunes that were accepted as settings of this one, in order; not those removed."""
    rows = shelf.db.execute(
        """
        WITH RECURSIVE
            alike (here, there) AS (
                SELECT one, other FROM likeness WHERE verdict = ?1
                UNION ALL SELECT other, one FROM likeness WHERE verdict = ?1
            ),
            found (item) AS (SELECT ?2 UNION SELECT there FROM alike JOIN found ON here = item)
        SELECT item.id FROM item JOIN found ON found.item = item.id
        WHERE item.id != ?2 AND item.removed = 0 ORDER BY item.id
        """,
        (Verdict.SETTINGS, item),
    )
    return tuple(int(row[0]) for row in rows)


def groups(shelf: Shelf) -> tuple[tuple[int, ...], ...]:
    """All groups of settings of one tune, removed tunes among them."""
    links: dict[int, set[int]] = defaultdict(set)
    for one, other in shelf.db.execute(
        "SELECT one, other FROM likeness WHERE verdict = ?", (Verdict.SETTINGS,)
    ):
        links[one].add(other)
        links[other].add(one)
    seen: set[int] = set()
    found: list[tuple[int, ...]] = []
    for item in sorted(links):
        if item in seen:
            continue
        group, ahead = {item}, [item]
        while ahead:
            fresh = links[ahead.pop()] - group
            group |= fresh
            ahead += fresh
        seen |= group
        found.append(tuple(sorted(group)))
    return tuple(found)


def decisions(shelf: Shelf) -> tuple[tuple[int, int, Verdict], ...]:
    """All that somebody has said, pair by pair, to be written out and brought back elsewhere."""
    rows = shelf.db.execute(
        "SELECT one, other, verdict FROM likeness WHERE verdict != ? ORDER BY one, other",
        (Verdict.OFFERED,),
    )
    return tuple((int(row[0]), int(row[1]), Verdict(row[2])) for row in rows)
