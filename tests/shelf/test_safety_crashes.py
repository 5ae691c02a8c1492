"""A shelf whose writers are killed in the midst of their work. The long form, with 300 kills, is
benchmarks/shelf_crashes.py; docs/shelf-safety.md has its figures."""

from __future__ import annotations

import random
import sys
from pathlib import Path

import pytest

from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.model import Form, Kind, Role

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no process groups to kill")


def _tunes(folder: Path, count: int) -> Path:
    """Invented tunes, some to a file."""
    folder.mkdir()
    rng = random.Random(11)
    for start in range(0, count, 50):
        text = ""
        for number in range(start, start + 50):
            bars = "|".join("".join(rng.choices("GABcdefg", k=8)) for _ in range(8))
            text += f"X:{number}\nT:Invented {number}\nM:4/4\nL:1/8\nK:G\n{bars}|\n\n"
        (folder / f"{start}.abc").write_text(text)
    return folder


@pytest.mark.no_cover
def test_writers_killed_at_random_instants_leave_all_that_they_told_and_nothing_half(
    tmp_path: Path,
) -> None:
    from shelf_crashes import killed

    tally = killed(6, 20261128, _tunes(tmp_path / "tunes", 600), tmp_path, hurry=0.4)
    assert tally.wrong == []
    assert tally.kills == {"import": 2, "edit": 2, "copy": 2}
    assert tally.working["edit"] == tally.working["copy"] == 2
    assert tally.in_transaction["edit"] + tally.in_transaction["copy"] >= 1
    assert tally.told["edit"] > 0


@pytest.mark.parametrize(
    "told",
    [
        {"tunes": 2},
        {"item": 1, "state": 2, "sha256": "0"},
        {"item": 1, "state": 1, "sha256": "0"},
        {"item": 2, "state": 1, "attachment": "0"},
        {"together": "three"},
        {"list": 3, "tunes": [1, 2]},
        {"of": 1, "present": 1, "removed": True},
        {"of": 1, "present": 2, "removed": False},
    ],
)
def test_what_was_told_and_is_not_there_would_be_seen(
    tmp_path: Path, told: dict[str, object]
) -> None:
    from shelf_crashes import as_told

    with open_shelf(tmp_path) as shelf:
        tune = shelf.add(Kind.TUNE, "one", Form.ABC, "text").id
        shelf.add(Kind.TAKE, "take", Form.FILE, attachment=b"sound")
        shelf.link(shelf.add(Kind.LIST, "list", Form.JSON, "").id, Role.ON, [tune])
        shelf.add(Kind.LESSON, "three", Form.TEXT)
        assert as_told(shelf, [{"what": "done", "tunes": 1}]) == []
        assert len(as_told(shelf, [{"what": "done", **told}])) == 1
