"""What people said of tunes that seemed to be settings of one another, in an export.

One line of JSON for each pair:
`{"verdict": "settings", "tunes": [{"uid": ..., "title": ...}, ...]}`.
What the program worked out by itself is not exported: it is worked out again.

Public: `write_verdicts`, `bring_verdicts`, `VERDICTS`.
"""

from __future__ import annotations

import json
from pathlib import Path

from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.likenesses.deciding import accept, refuse
from reedwright.shelf.likenesses.model import Verdict
from reedwright.shelf.model import ShelfError

VERDICTS = "settings.jsonl"


def write_verdicts(shelf: Shelf, folder: Path) -> None:
    """Write them to `settings.jsonl`; no file where nobody has said anything."""
    rows = shelf.db.execute(
        "SELECT verdict, a.uid, a.name, b.uid, b.name FROM likeness "
        "JOIN item AS a ON a.id = one JOIN item AS b ON b.id = other "
        "WHERE verdict != ? ORDER BY one, other",
        (Verdict.OFFERED,),
    )
    lines = [
        json.dumps(
            {
                "verdict": row[0],
                "tunes": [{"uid": row[1], "title": row[2]}, {"uid": row[3], "title": row[4]}],
            },
            ensure_ascii=False,
        )
        for row in rows
    ]
    if lines:
        (folder / VERDICTS).write_bytes(("\n".join(lines) + "\n").encode())


def bring_verdicts(shelf: Shelf, folder: Path) -> list[str]:
    """Say again what was said of pairs of which nobody has said anything here; returns what cannot
    be said again, one sentence each. The tunes and their facts are on the shelf by now."""
    path = folder / VERDICTS
    if not path.exists():
        return []
    problems = []
    try:
        lines = path.read_bytes().decode("utf-8", "replace").splitlines()
    except OSError as error:
        return [f"{path}: can't be read ({error.strerror or error})."]
    with shelf.change():
        for number, line in enumerate(lines, start=1):
            try:
                _bring(shelf, line)
            except (ValueError, TypeError, LookupError, ShelfError) as error:
                problems.append(f"{path}, line {number}: can't be said again ({error}).")
    return problems


def _bring(shelf: Shelf, line: str) -> None:
    found = json.loads(line)
    verdict = Verdict(found["verdict"])
    one, other = (_item(shelf, str(tune["uid"])) for tune in found["tunes"])
    said = shelf.db.execute(
        "SELECT verdict FROM likeness WHERE one = ? AND other = ? AND verdict != ?",
        (min(one, other), max(one, other), Verdict.OFFERED),
    ).fetchone()
    if said is None:
        (accept if verdict is Verdict.SETTINGS else refuse)(shelf, one, other)


def _item(shelf: Shelf, uid: str) -> int:
    row = shelf.db.execute("SELECT id FROM item WHERE uid = ?", (uid,)).fetchone()
    if row is None:
        raise ShelfError(f"the tune {uid} is not here")
    return int(row[0])
