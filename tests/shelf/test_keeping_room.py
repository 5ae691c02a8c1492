"""No room left, and files beside the database: nothing is lost and the shelf goes on."""

from __future__ import annotations

import os
import subprocess
import time
import tracemalloc
from collections.abc import Iterator
from pathlib import Path

import pytest

from reedwright.files import NotWritten
from reedwright.shelf.keeping.opening import DATABASE, open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.keeping.troubles import ShelfFull
from reedwright.shelf.model import Form, Kind, ShelfError
from reedwright.shelf.safety.backing_up import back_up
from reedwright.shelf.safety.checking import check
from reedwright.shelf.safety.clearing_out import GRACE, clear_out, orphans
from reedwright.shelf.safety.exporting import export

LONG = "X:1\nT:long\nK:G\n" + "GABc dedB|" * 5000  # 50 kB


@pytest.fixture
def shelf(tmp_path: Path) -> Iterator[Shelf]:
    with open_shelf(tmp_path / "shelf") as opened:
        yield opened


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 2 MB; only root may make one."""
    place = tmp_path / "small"
    place.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", place], capture_output=True, check=False
    )
    if made.returncode:
        pytest.skip("no disk can be made here")
    yield place
    subprocess.run(["umount", "-l", place], check=True)


def _refused_and_unharmed(shelf: Shelf) -> None:
    """Fill it until there is no room, in changes of three items each."""
    before = -1
    with pytest.raises(ShelfFull, match="no room left") as refused:
        for _ in range(200):
            before = sum(shelf.counts().values())
            with shelf.change():
                for _ in range(3):
                    shelf.add(Kind.TUNE, "long", Form.ABC, LONG)
    assert isinstance(refused.value, NotWritten) and isinstance(refused.value, ShelfError)
    assert sum(shelf.counts().values()) == before > 0
    assert check(shelf).problems == ()


def test_a_full_file_is_an_error_with_nothing_lost_and_the_shelf_goes_on(shelf: Shelf) -> None:
    first = shelf.add(Kind.TUNE, "first", Form.ABC, "X:1\nK:G\nG|").id
    pages = shelf.db.execute("PRAGMA page_count").fetchone()[0]
    shelf.db.execute(f"PRAGMA max_page_count = {pages + 100}")
    _refused_and_unharmed(shelf)
    shelf.db.execute("PRAGMA max_page_count = 1000000")
    assert shelf.revise(first, LONG).state.text == LONG


def test_a_full_disk_is_an_error_with_nothing_lost_and_the_shelf_goes_on(small_disk: Path) -> None:
    with open_shelf(small_disk / "shelf") as shelf:
        shelf.add(Kind.TUNE, "first", Form.ABC, "X:1\nK:G\nG|")
        stone = small_disk / "stone"
        stone.write_bytes(b"0" * 300_000)
        _refused_and_unharmed(shelf)
        count = sum(shelf.counts().values())
        with pytest.raises(NotWritten, match="Make room there"):
            shelf.add(Kind.TAKE, "take", Form.FILE, attachment=b"0" * 1_000_000)
        assert not orphans(shelf) and sum(shelf.counts().values()) == count
        for copy in (back_up, export):
            with pytest.raises(NotWritten):
                copy(shelf, small_disk / copy.__name__)
        assert {path.name for path in small_disk.iterdir()} == {"shelf", "stone"}
        stone.unlink()
        added = shelf.add(Kind.TAKE, "take", Form.FILE, attachment=b"small")
        assert shelf.attachments.read(added.state.attachment) == b"small"
        assert check(shelf).whole


def test_a_step_that_goes_on_after_all_was_undone_is_refused(shelf: Shelf) -> None:
    """SQLite undoes the whole transaction where the disk is full; nothing may then be half kept."""
    pages = shelf.db.execute("PRAGMA page_count").fetchone()[0]
    shelf.db.execute(f"PRAGMA max_page_count = {pages + 100}")
    with pytest.raises(ShelfError, match="all steps with it were undone"), shelf.change():
        shelf.add(Kind.TUNE, "short", Form.ABC, "G")
        for _ in range(20):
            try:
                shelf.add(Kind.TUNE, "long", Form.ABC, LONG)
            except ShelfFull:
                break
        if shelf.db.in_transaction:  # SQLite undid the step alone: so may a newer one
            shelf.db.execute("ROLLBACK")
        shelf.add(Kind.TUNE, "short", Form.ABC, "G")
    assert shelf.counts() == {}


# -- attachments ----------------------------------------------------------------------------


def test_a_long_recording_is_taken_in_by_pieces_and_kept_once(shelf: Shelf, tmp_path: Path) -> None:
    recording = tmp_path / "take.wav"
    with recording.open("wb") as file:
        for _ in range(24):
            file.write(os.urandom(2**20))
    tracemalloc.start()
    one = shelf.add(Kind.TAKE, "take", Form.FILE, attachment=recording)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 6 * 2**20  # bytes; the file has 24 MB
    two = shelf.add(Kind.TAKE, "the same", Form.FILE, attachment=recording.read_bytes())
    assert one.state.attachment == two.state.attachment
    kept = [path for path in shelf.attachments.folder.rglob("*") if path.is_file()]
    assert kept == [shelf.attachments.path(one.state.attachment)]
    assert kept[0].read_bytes() == recording.read_bytes()


def test_a_recording_that_cannot_be_read_is_told_and_nothing_is_added(
    shelf: Shelf, tmp_path: Path
) -> None:
    with pytest.raises(ShelfError, match="cannot be read"):
        shelf.add(Kind.TAKE, "take", Form.FILE, attachment=tmp_path / "nowhere.wav")
    assert shelf.counts() == {}


def test_a_harmed_attachment_is_told_and_made_whole_by_adding_it_again(shelf: Shelf) -> None:
    item = shelf.add(Kind.TAKE, "take", Form.FILE, attachment=b"sound of a reed")
    path = shelf.attachments.path(item.state.attachment)
    for harm in (b"sound of a reef", b"sound", None):
        if harm is None:
            path.unlink()
        else:
            path.write_bytes(harm)
        with pytest.raises(ShelfError, match="backup"):
            shelf.attachments.read(item.state.attachment)
        assert [problem for problem in check(shelf).problems if "take (item 1, state 1)" in problem]
        shelf.add(Kind.TAKE, "again", Form.FILE, attachment=b"sound of a reed")
        assert check(shelf).whole


def test_what_no_state_names_is_cleared_out_after_a_day_and_nothing_else(shelf: Shelf) -> None:
    item = shelf.add(Kind.TAKE, "take", Form.FILE, attachment=b"named")
    shelf.remove(item.id)
    old = shelf.attachments.path(shelf.attachments.add(b"nobody's"))
    part = old.with_name(".abc-1.part")
    part.write_bytes(b"half")
    new = shelf.attachments.path(shelf.attachments.add(b"just put down"))
    for path in (old, part, shelf.attachments.path(item.state.attachment)):
        long_ago = time.time() - GRACE - 60
        os.utime(path, (long_ago, long_ago))
    assert set(orphans(shelf)) == {old, part, new}
    report = check(shelf)
    assert report.whole and report.orphans == 3 and "3 files of attachments" in report.text()
    assert set(clear_out(shelf)) == {old, part}
    assert new.exists() and shelf.attachments.read(item.state.attachment) == b"named"


def test_a_file_cleared_out_before_it_is_named_is_put_down_again(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = shelf.attachments.add_sized
    calls = []

    def add_and_lose(content: bytes | Path) -> tuple[str, int]:
        found = plain(content)
        calls.append(found)
        if len(calls) == 1:  # another process, which thinks that a day has gone by
            with open_shelf(shelf.folder) as other:
                clear_out(other, grace=-1)
        return found

    monkeypatch.setattr(shelf.attachments, "add_sized", add_and_lose)
    item = shelf.add(Kind.TAKE, "take", Form.FILE, attachment=b"sound")
    assert len(calls) == 2 and shelf.attachments.read(item.state.attachment) == b"sound"
    assert (shelf.folder / DATABASE).exists()
