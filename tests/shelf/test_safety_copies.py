"""Checking, backing up, restoring: harm of every sort is found, copies are whole or not there."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from reedwright.files import NotWritten
from reedwright.shelf.facts.keeping import refresh
from reedwright.shelf.keeping.opening import DATABASE, open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Kind, Role, ShelfNotUsable
from reedwright.shelf.safety import backing_up
from reedwright.shelf.safety.backing_up import back_up, restore
from reedwright.shelf.safety.checking import MANY, check

TUNE = "X:1\nT:{}\nM:6/8\nK:G\nGAB d2B|AGA B2G|\n"


@pytest.fixture
def shelf(tmp_path: Path) -> Iterator[Shelf]:
    with open_shelf(tmp_path / "shelf") as opened:
        yield opened


def fill(shelf: Shelf, tunes: int = 3) -> None:
    """Tunes with facts, one of them changed; a take with a file; a list; something removed."""
    with shelf.change():
        ids = [
            shelf.add(Kind.TUNE, f"tune {nth}", Form.ABC, TUNE.format(f"tune {nth}")).id
            for nth in range(tunes)
        ]
        shelf.revise(ids[0], TUNE.format("tune 0") + "BAB G3|\n", said="longer")
        take = shelf.add(Kind.TAKE, "take", Form.FILE, attachment=b"sound" * 1000)
        shelf.link(take.id, Role.OF, ids[:1])
        evening = shelf.add(Kind.LIST, "evening", Form.TOML, "a = 1")
        shelf.link(evening.id, Role.ON, ids)
        shelf.remove(ids[1])
    refresh(shelf)


def everything(shelf: Shelf) -> list[tuple[object, ...]]:
    """All that is kept, row by row, whatever the order on the disk."""
    found: list[tuple[object, ...]] = []
    for table in ("item", "state", "link", "attachment"):
        rows = shelf.db.execute(f"SELECT * FROM {table}").fetchall()
        found += sorted((table, *map(repr, row)) for row in rows)
    return found


# -- checking -------------------------------------------------------------------------------


def test_a_shelf_that_is_whole_is_said_to_be(shelf: Shelf) -> None:
    fill(shelf)
    report = check(shelf)
    assert report.whole and report.remarks == ()
    assert (report.items, report.states, report.attachments) == (5, 6, 1)
    assert report.attachment_bytes == 5000
    assert report.report()["whole"] is True and "Everything is whole" in report.text()


def test_progress_is_told_from_nothing_to_all(shelf: Shelf) -> None:
    fill(shelf)
    shares: list[float] = []
    check(shelf, lambda share, doing: shares.append(share))
    assert shares == sorted(shares) and shares[0] == 0 and shares[-1] == 1


HARM: dict[str, tuple[str, str]] = {
    "present": ("UPDATE item SET state = 7 WHERE id = 1", "its present state is not there"),
    "parent": (
        "UPDATE state SET number = 5 WHERE item = 1 AND number = 1",
        "item 1: state 2 was made from state 1, which is not there",
    ),
    "redo": ("UPDATE item SET left_at = 9 WHERE id = 1", "the state 9 that redoing leads to"),
    "link": ("UPDATE link SET to_item = 77", "a row of 'link' speaks of one of 'item'"),
    "attachment": ("DELETE FROM attachment", "a row of 'state' speaks of one of 'attachment'"),
    "name": ("UPDATE item SET name = 'x' WHERE id = 3", "item 3 is called 'x', and 'tune 2'"),
    "kind": ("UPDATE item SET kind = 'spoon' WHERE id = 4", "not known, 'spoon'"),
    "form": ("UPDATE state SET form = 'wax' WHERE item = 4", "a form that is not known, 'wax'"),
    "about": ("UPDATE state SET about = '[1]' WHERE item = 4", "can't be read"),
    "at": ("UPDATE state SET at = 'once' WHERE item = 4", "its time"),
    "links": ("UPDATE state SET links = '[[\"x\", 1]]' WHERE item = 4", "what it belongs to"),
    "words": ("DELETE FROM words_docsize WHERE id = 1", "the index of words 'words'"),
    "words inside": ("UPDATE words_data SET block = x'00' WHERE id > 10", "the index of words"),
}


@pytest.mark.parametrize("harm", HARM)
def test_harm_of_every_sort_is_found(shelf: Shelf, harm: str) -> None:
    fill(shelf)
    shelf.close()
    statement, told = HARM[harm]
    db = sqlite3.connect(shelf.folder / DATABASE)
    db.execute("PRAGMA foreign_keys = OFF")
    db.execute(statement)
    db.commit()
    db.close()
    with open_shelf(shelf.folder) as again:
        report = check(again)
    assert not report.whole
    assert any(told in problem for problem in report.problems), report.problems
    assert "restore your last backup" in report.text()


def test_a_page_that_is_damaged_is_found(shelf: Shelf) -> None:
    fill(shelf, tunes=60)
    pages = shelf.db.execute("PRAGMA page_count").fetchone()[0]
    page = shelf.db.execute("SELECT rootpage FROM sqlite_master WHERE name = 'item_by_kind'")
    root = page.fetchone()[0]
    shelf.close()
    path = shelf.folder / DATABASE
    content = bytearray(path.read_bytes())
    size = len(content) // pages
    content[root * size - 400 : root * size] = b"\xff" * 400
    path.write_bytes(content)
    with open_shelf(shelf.folder) as again:
        assert any("the file is damaged" in problem for problem in check(again).problems)


def test_much_harm_is_counted_after_the_first(shelf: Shelf) -> None:
    with shelf.change():
        for nth in range(MANY + 5):
            shelf.db.execute("INSERT INTO attachment VALUES (?, 1)", (f"{nth:064}",))
    problems = check(shelf).problems
    assert len(problems) == MANY + 1 and problems[-1] == "and 5 more of this sort"


def test_facts_of_an_earlier_state_are_remarked(shelf: Shelf) -> None:
    fill(shelf)
    shelf.revise(3, TUNE.format("other"))
    shelf.add(Kind.TUNE, "new", Form.ABC, TUNE.format("new"))
    report = check(shelf)
    assert report.whole and len(report.remarks) == 2
    assert "1 tune would be found by" in report.remarks[0]
    refresh(shelf)
    assert check(shelf).remarks == ()


def test_a_shelf_for_reading_is_checked_too(shelf: Shelf) -> None:
    fill(shelf)
    with open_shelf(shelf.folder, read_only=True) as reading:
        assert check(reading).whole


# -- backing up -----------------------------------------------------------------------------


def test_a_backup_is_a_shelf_and_a_shelf_made_of_it_is_the_same(
    shelf: Shelf, tmp_path: Path
) -> None:
    fill(shelf)
    shares: list[float] = []
    report = back_up(shelf, tmp_path / "backup", lambda share, doing: shares.append(share))
    assert (report.items, report.attachments, report.bytes, report.problems) == (5, 1, 5000, ())
    assert shares == sorted(shares) and shares[-1] == 1
    assert {path.name for path in (tmp_path / "backup").iterdir()} == {DATABASE, "attachments"}
    restore(tmp_path / "backup", tmp_path / "made" / "shelf")
    for place in (tmp_path / "backup", tmp_path / "made" / "shelf"):
        with open_shelf(place) as copy:
            assert everything(copy) == everything(shelf)
            assert check(copy).whole
            copy.revise(1, "changed here alone")
    assert "changed here alone" not in shelf.item(1).state.text


def test_a_backup_is_of_one_moment_while_others_write(
    shelf: Shelf, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each change adds two tunes; a backup has both or none. The writer writes between any two
    pages that are copied."""
    monkeypatch.setattr(backing_up, "PAGES", 1)
    fill(shelf, tunes=40)
    count = sum(shelf.counts().values())
    written = 0

    def write(share: float, doing: str) -> None:
        nonlocal written
        with open_shelf(shelf.folder) as other, other.change():
            for _ in range(2):
                other.add(Kind.TUNE, "pair", Form.ABC, TUNE.format("pair") * 20)
        written += 1

    back_up(shelf, tmp_path / "backup", write)
    assert written > 20
    with open_shelf(tmp_path / "backup") as copy:
        assert sum(copy.counts().values()) == count
        assert check(copy).problems == ()
    assert sum(shelf.counts().values()) == count + 2 * written


def test_a_backup_under_a_writer_who_never_rests_comes_to_its_end(
    shelf: Shelf, tmp_path: Path
) -> None:
    fill(shelf, tunes=40)
    resting = threading.Event()

    def write() -> None:
        with open_shelf(shelf.folder) as other:
            while not resting.is_set():
                other.add(Kind.TUNE, "more", Form.ABC, TUNE.format("more"))

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for nth in range(3):
            back_up(shelf, tmp_path / f"backup {nth}")
    finally:
        resting.set()
        writer.join()
    for nth in range(3):
        with open_shelf(tmp_path / f"backup {nth}", read_only=True) as copy:
            assert check(copy).problems == ()


def test_a_lost_attachment_is_told_and_the_rest_is_backed_up(shelf: Shelf, tmp_path: Path) -> None:
    fill(shelf)
    lost = shelf.add(Kind.TAKE, "lost", Form.FILE, attachment=b"lost")
    shelf.attachments.path(lost.state.attachment).unlink()
    harmed = shelf.add(Kind.TAKE, "harmed", Form.FILE, attachment=b"harmed")
    shelf.attachments.path(harmed.state.attachment).write_bytes(b"harmer")
    report = back_up(shelf, tmp_path / "backup")
    assert report.attachments == 1 and len(report.problems) == 2
    with open_shelf(tmp_path / "backup") as copy:
        assert copy.attachments.read(copy.item(4).state.attachment) == b"sound" * 1000
        assert len(check(copy).problems) == 2


def test_a_place_with_something_in_it_is_left_alone(shelf: Shelf, tmp_path: Path) -> None:
    fill(shelf)
    place = tmp_path / "backup"
    place.mkdir()
    (place / "letter.txt").write_text("mine")
    with pytest.raises(NotWritten, match="something in that place already"):
        back_up(shelf, place)
    back_up(shelf, tmp_path / "good")
    with pytest.raises(NotWritten, match="a shelf in that place already"):
        restore(tmp_path / "good", shelf.folder)
    assert [path.name for path in place.iterdir()] == ["letter.txt"]


def test_what_is_no_backup_or_is_damaged_is_not_restored(shelf: Shelf, tmp_path: Path) -> None:
    with pytest.raises(ShelfNotUsable, match="there is no shelf here"):
        restore(tmp_path / "nowhere", tmp_path / "made")
    fill(shelf, tunes=60)
    back_up(shelf, tmp_path / "backup")
    path = tmp_path / "backup" / DATABASE
    content = bytearray(path.read_bytes())
    content[len(content) // 2 : len(content) // 2 + 9000] = b"\xff" * 9000
    path.write_bytes(content)
    with pytest.raises(ShelfNotUsable, match="damaged"):
        restore(tmp_path / "backup", tmp_path / "made")
    assert not (tmp_path / "made").exists()


@pytest.mark.parametrize("stop", [KeyboardInterrupt, ZeroDivisionError])
def test_a_backup_that_is_stopped_leaves_nothing(
    shelf: Shelf, tmp_path: Path, stop: type[BaseException]
) -> None:
    fill(shelf)

    def stopping() -> Callable[[float, str], None]:
        def tell(share: float, doing: str) -> None:
            if share > 0.4:
                raise stop

        return tell

    with pytest.raises(stop):
        back_up(shelf, tmp_path / "copies" / "backup", stopping())
    assert list((tmp_path / "copies").iterdir()) == []
