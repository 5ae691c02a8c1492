"""How hard each tune is for a player, on the harp that it lies best on (docs/difficulty.md).

A grade takes some hundredths of a second, so grades are worked out apart from the import where many
tunes come in, by several processes, and only those that are missing. A grade is
missing, too, where the tune has another state by now, or the player's profile, the tunings known or
the rules have changed since.

Public: `grade_tunes`, `ungraded`, `grade_on`, `USUAL_PLAYER`, `GRADE_RULES`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from functools import partial

from reedwright.errors import ReedwrightError
from reedwright.harp.tunings import all_tunings
from reedwright.player.profile import Profile
from reedwright.processes import cores
from reedwright.shelf.facts.crew import in_order
from reedwright.shelf.facts.keeping import Asked
from reedwright.shelf.facts.model import Grade
from reedwright.shelf.facts.reading import tune_of_state
from reedwright.shelf.keeping.attachments import Attachments
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.tune.model import Tune

Progress = Callable[[float, str], None]

USUAL_PLAYER = "player"
"""Name of the shipped profile that grades are for where no other is named."""
GRADE_RULES = 1
"""Version of ranking and grading; grades by an older one are worked out again."""

CHUNK = 20  # tunes, some third of a second's work
MANY = 150
"""Tunes from which on further processes are started, which takes each of them a second."""


def grade_tunes(
    shelf: Shelf,
    profile: Profile,
    progress: Progress | None = None,
    items: Sequence[int] | None = None,
    workers: int | None = None,
) -> int:
    """Work out the grades that are missing for this player; returns how many were.

    `items`: of these tunes alone. What is done is kept when it is stopped, and not done again.
    A tune with nothing to play has no grade.
    """
    rules = _rules(profile)
    wanted = ungraded(shelf, profile)
    if items is not None:
        among = set(items)
        wanted = [item for item in wanted if item in among]
    processes = (workers or cores()) if len(wanted) >= MANY else 1
    chunks = (wanted[at : at + CHUNK] for at in range(0, len(wanted), CHUNK))
    tasks = ([_asked(shelf, item) for item in chunk] for chunk in chunks)
    seen = done = 0
    for asked, grades in in_order(partial(_grades, profile), tasks, processes):
        with shelf.change():
            for each, grade in zip(asked, grades, strict=True):
                if grade is not None:
                    done += _keep(shelf, each, profile.name, rules, grade)
        seen += len(asked)
        if progress is not None:
            progress(seen / len(wanted), "how hard the tunes are")
    return done


def ungraded(shelf: Shelf, profile: Profile) -> list[int]:
    """Tunes on the shelf, with notes, that have no grade for this player that is up to date."""
    rows = shelf.db.execute(
        "SELECT item.id FROM item JOIN fact ON fact.item = item.id AND fact.notes > 0 "
        "LEFT JOIN grade ON grade.item = item.id AND grade.player = ? "
        "WHERE item.kind = 'tune' AND item.removed = 0 AND "
        "(grade.item IS NULL OR grade.state != item.state OR grade.rules != ?) ORDER BY item.id",
        (profile.name, _rules(profile)),
    )
    return [int(row[0]) for row in rows]


def grade_on(shelf: Shelf, item: int, player: str = USUAL_PLAYER) -> Grade | None:
    """The grade that is kept of a tune for a player; None where there is none of its state."""
    row = shelf.db.execute(
        "SELECT harp, octaves, grade FROM grade JOIN item ON item.id = grade.item "
        "AND item.state = grade.state WHERE grade.item = ? AND player = ?",
        (item, player),
    ).fetchone()
    return None if row is None else Grade(*row)


def grade_of_tune(tune: Tune, profile: Profile) -> Grade | None:
    """The harp that a tune lies best on, how far it is moved, and the grade there."""
    from reedwright.tab.arrange import arrange
    from reedwright.tab.difficulty.grade import difficulty
    from reedwright.tab.ranking import best_harp

    best = best_harp(tune, profile)
    if best is None:
        return None
    arrangement = arrange(tune, best.harp, profile, octaves=best.octaves)
    return Grade(best.harp.name, best.octaves, difficulty(arrangement).grade)


def _rules(profile: Profile) -> int:
    """One number for all that a grade follows from, the tune apart."""
    parts = [str(GRADE_RULES), str(sorted(profile.techniques))]
    parts += [repr(profile.weights), repr(profile.lungs)]
    parts += [f"{name} {tuning!r}" for name, tuning in sorted(all_tunings().items())]
    digest = hashlib.blake2b("\n".join(parts).encode(), digest_size=6).digest()
    return int.from_bytes(digest, "big")


def _asked(shelf: Shelf, item: int) -> Asked:
    now = shelf.item(item)
    return Asked(item, now.name, now.state, shelf.attachments.folder)


def _grades(profile: Profile, asked: Sequence[Asked]) -> list[Grade | None]:
    found: list[Grade | None] = []
    for each in asked:
        try:
            tune = tune_of_state(Attachments(each.attachments), each.name, each.state)
            found.append(grade_of_tune(tune, profile))
        except ReedwrightError:
            found.append(None)
    return found


def _keep(shelf: Shelf, asked: Asked, player: str, rules: int, grade: Grade) -> bool:
    """Unless the tune has another state by now."""
    cursor = shelf.db.execute(
        "INSERT INTO grade (item, player, state, rules, harp, octaves, grade) "
        "SELECT id, ?, state, ?, ?, ?, ? FROM item WHERE id = ? AND state = ? "
        "ON CONFLICT (item, player) DO UPDATE SET state = excluded.state, rules = excluded.rules, "
        "harp = excluded.harp, octaves = excluded.octaves, grade = excluded.grade",
        (player, rules, grade.harp, grade.octaves, grade.grade, asked.item, asked.state.number),
    )
    return bool(cursor.rowcount == 1)
