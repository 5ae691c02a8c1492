"""Facts kept on the shelf beside the tunes, and brought up to date where they are not.

Public: `put_facts`, `facts_on`, `row_of`, `put_row`, `Row`, `refresh`.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.processes import cores
from reedwright.shelf.facts.crew import in_order
from reedwright.shelf.facts.melodies import packed, unpacked
from reedwright.shelf.facts.model import RULES, TuneFacts
from reedwright.shelf.keeping.attachments import Attachments
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import State

Row = tuple[object, ...]
"""The columns of table `fact` from `number` on."""

Progress = Callable[[float, str], None]

_COLUMNS = (
    "number", "title", "titles", "type", "key", "tonic", "mode", "metre", "lowest", "highest",
    "pitches_low", "pitches_high", "notes", "bars", "form", "composer", "rights", "fields",
    "music", "melody",
)  # fmt: skip
_FIRST_HIGH = 63
_LAST_HIGH = 125  # bit 62 of the higher number; what is above it, which no harp has, counts there

# Changed in place, not replaced: who looks after changes of a row is told of one.
_PUT = (
    f"INSERT INTO fact (item, state, rules, {', '.join(_COLUMNS)}) "
    f"VALUES (?, ?, ?{', ?' * len(_COLUMNS)}) "
    "ON CONFLICT (item) DO UPDATE SET state = excluded.state, rules = excluded.rules, "
    + ", ".join(f"{name} = excluded.{name}" for name in _COLUMNS)
)


def row_of(facts: TuneFacts) -> Row:
    """Facts as the database keeps them."""
    low = high = 0
    for midi in facts.pitches:
        if midi < _FIRST_HIGH:
            low |= 1 << midi
        else:
            high |= 1 << min(midi, _LAST_HIGH) - _FIRST_HIGH
    return (
        facts.number,
        facts.title,
        "\n".join(facts.titles),
        facts.type,
        facts.key,
        facts.tonic,
        facts.mode,
        facts.metre,
        facts.lowest,
        facts.highest,
        low,
        high,
        facts.notes,
        facts.bars,
        facts.form,
        facts.composer,
        facts.rights,
        json.dumps(facts.fields, ensure_ascii=False),
        facts.music,
        packed(facts.melody),
    )


def put_facts(shelf: Shelf, item: int, state: int, facts: TuneFacts) -> None:
    """Keep the facts that were worked out from this state of the item."""
    put_row(shelf, item, state, row_of(facts))


def put_row(shelf: Shelf, item: int, state: int, row: Row) -> None:
    """As `put_facts`, of facts made ready elsewhere."""
    with shelf.change():
        shelf.db.execute(_PUT, (item, state, RULES, *row))


def facts_on(shelf: Shelf, item: int) -> TuneFacts | None:
    """The facts that are kept of an item; None where there are none.

    They are those of an earlier state where nobody has called `refresh` since.
    """
    row = shelf.db.execute(
        f"SELECT {', '.join(_COLUMNS)} FROM fact WHERE item = ?", (item,)
    ).fetchone()
    if row is None:
        return None
    pitches = [midi for midi in range(_FIRST_HIGH) if row["pitches_low"] >> midi & 1]
    pitches += [
        midi for midi in range(_FIRST_HIGH, 126) if row["pitches_high"] >> midi - _FIRST_HIGH & 1
    ]
    return TuneFacts(
        number=row["number"],
        title=row["title"],
        titles=tuple(row["titles"].split("\n")) if row["titles"] else (),
        type=row["type"],
        key=row["key"],
        tonic=row["tonic"],
        mode=row["mode"],
        metre=row["metre"],
        lowest=row["lowest"],
        highest=row["highest"],
        pitches=tuple(pitches),
        notes=row["notes"],
        bars=row["bars"],
        form=row["form"],
        composer=row["composer"],
        rights=row["rights"],
        fields=tuple((code, text) for code, text in json.loads(row["fields"])),
        music=row["music"],
        melody=unpacked(row["melody"]),
    )


def stale(shelf: Shelf) -> list[int]:
    """Tunes whose facts are missing, of another state, or by older rules."""
    rows = shelf.db.execute(
        "SELECT item.id FROM item LEFT JOIN fact ON fact.item = item.id "
        "WHERE item.kind = 'tune' AND "
        "(fact.item IS NULL OR fact.state != item.state OR fact.rules != ?) ORDER BY item.id",
        (RULES,),
    )
    return [int(row[0]) for row in rows]


def refresh(
    shelf: Shelf, progress: Progress | None = None, items: Sequence[int] | None = None
) -> int:
    """Work out anew all facts that are not those of the present state; returns how many.

    `items`: of these tunes alone, whatever their facts say. Many are done by several processes.
    Another process may change tunes meanwhile: facts of a state that is no longer the present
    one are not kept. A tune that cannot be read any more has no facts, and is never found.
    """
    wanted = stale(shelf) if items is None else list(items)
    workers = cores() if len(wanted) >= MANY else 1
    chunks = (wanted[at : at + CHUNK] for at in range(0, len(wanted), CHUNK))
    tasks = ([_asked(shelf, item) for item in chunk] for chunk in chunks)
    seen = done = 0
    for asked, rows in in_order(rows_of, tasks, workers):
        with shelf.change():
            for each, row in zip(asked, rows, strict=True):
                done += _kept(shelf, each, row)
        seen += len(asked)
        if progress is not None:
            progress(seen / len(wanted), "looking at tunes")
    return done


MANY = 400
"""Tunes from which on further processes are started: about a second's work."""
CHUNK = 100


class Asked(NamedTuple):
    """A tune to be looked at, as it goes to another process."""

    item: int
    name: str
    state: State
    attachments: Path


def rows_of(asked: Sequence[Asked]) -> list[Row | None]:
    """The facts of each, None for one that cannot be read."""
    from reedwright.shelf.facts.reading import tune_of_state
    from reedwright.shelf.facts.working_out import facts_of

    found: list[Row | None] = []
    for each in asked:
        try:
            tune = tune_of_state(Attachments(each.attachments), each.name, each.state)
            found.append(row_of(facts_of(tune, each.name)))
        except ReedwrightError:
            found.append(None)
    return found


def _asked(shelf: Shelf, item: int) -> Asked:
    now = shelf.item(item)
    return Asked(item, now.name, now.state, shelf.attachments.folder)


def _kept(shelf: Shelf, asked: Asked, row: Row | None) -> bool:
    now = shelf.db.execute("SELECT state FROM item WHERE id = ?", (asked.item,)).fetchone()
    if now is None or now[0] != asked.state.number:
        return False
    if row is None:
        shelf.db.execute("DELETE FROM fact WHERE item = ?", (asked.item,))
        return False
    put_row(shelf, asked.item, asked.state.number, row)
    return True
