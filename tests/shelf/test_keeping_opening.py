"""Opening the shelf: what is made, what is refused and in which words, read-only places, forms."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from reedwright.files import NotWritten
from reedwright.shelf.keeping import migrating, opening
from reedwright.shelf.keeping.migrating import forms
from reedwright.shelf.keeping.opening import DATABASE, open_shelf
from reedwright.shelf.keeping.troubles import ShelfBusy, ShelfReadOnly
from reedwright.shelf.model import Form, Kind, Role, ShelfError, ShelfNotUsable

TUNE = "X:1\nT:The Reedmaker’s Latch\nK:G\nGABc|\n"


def _filled(folder: Path) -> None:
    with open_shelf(folder) as shelf:
        shelf.add(Kind.TUNE, "The Reedmaker’s Latch", Form.ABC, TUNE)


@pytest.fixture
def medium(tmp_path: Path) -> Iterator[Path]:
    """A medium of its own that can be mounted read-only; only root may make one."""
    place = tmp_path / "medium"
    place.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", place], capture_output=True, check=False
    )
    if made.returncode:
        pytest.skip("no medium can be mounted here")
    yield place
    subprocess.run(["umount", "-l", place], check=True)


def _make_read_only(medium: Path) -> None:
    subprocess.run(["mount", "-o", "remount,ro", medium], check=True)


def test_the_log_is_ahead_and_each_commit_is_handed_to_the_disk(tmp_path: Path) -> None:
    with open_shelf(tmp_path / "a" / "shelf") as shelf:
        pragmas = ("journal_mode", "synchronous", "foreign_keys")
        found = [shelf.db.execute(f"PRAGMA {each}").fetchone()[0] for each in pragmas]
    assert found == ["wal", 2, 1]  # 2: FULL (sqlite.org/pragma.html)


def test_a_file_that_is_no_database_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / DATABASE).write_text("a letter to a friend, of some length " * 30)
    with pytest.raises(ShelfNotUsable, match="this file is no shelf"):
        open_shelf(tmp_path)
    assert (tmp_path / DATABASE).read_text().startswith("a letter")


def test_a_database_of_another_program_is_left_alone(tmp_path: Path) -> None:
    other = sqlite3.connect(tmp_path / DATABASE)
    other.execute("CREATE TABLE recipe (name TEXT)")
    other.close()
    with pytest.raises(ShelfNotUsable, match="another program"):
        open_shelf(tmp_path)
    other = sqlite3.connect(tmp_path / DATABASE)
    assert [row[0] for row in other.execute("SELECT name FROM sqlite_master")] == ["recipe"]


def test_a_damaged_file_is_told_of_with_what_to_do(tmp_path: Path) -> None:
    _filled(tmp_path)
    path = tmp_path / DATABASE
    content = bytearray(path.read_bytes())
    content[100:4096] = bytes(3996)  # the page that names all tables, after the file's header
    path.write_bytes(content)
    with pytest.raises(ShelfNotUsable, match=r"damaged .*restore your last backup"):
        open_shelf(tmp_path)


def test_a_newer_form_is_left_alone(tmp_path: Path) -> None:
    _filled(tmp_path)
    newer = sqlite3.connect(tmp_path / DATABASE)
    newer.execute("PRAGMA user_version = 999")
    newer.close()
    for read_only in (False, True):
        with pytest.raises(ShelfNotUsable, match=r"newer Reedwright \(form 999"):
            open_shelf(tmp_path, read_only=read_only)


def test_a_file_where_the_folder_should_be_is_refused(tmp_path: Path) -> None:
    (tmp_path / "shelf").write_text("not a folder")
    with pytest.raises(NotWritten, match="choose another place"):
        open_shelf(tmp_path / "shelf")
    (tmp_path / "other" / DATABASE).mkdir(parents=True)
    with pytest.raises(ShelfNotUsable, match="can't be opened"):
        open_shelf(tmp_path / "other")


def test_an_old_sqlite_is_told_of(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(migrating.sqlite3, "sqlite_version_info", (3, 31, 1))
    with pytest.raises(ShelfNotUsable, match=r"needs SQLite 3\.34"):
        open_shelf(tmp_path)


def test_a_sqlite_without_text_search_is_told_of(tmp_path: Path) -> None:
    scripts = tmp_path / "scripts"
    scripts.mkdir()
    text = "CREATE VIRTUAL TABLE words USING no_such_module(a);"
    (scripts / "001.sql").write_text(text)
    with pytest.raises(ShelfNotUsable, match="text search"):
        open_shelf(tmp_path / "shelf", migrations=scripts)


def test_a_place_without_shared_memory_as_a_network_folder_says_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = opening._uri
    # SQLite's own way of locking for such places, which has no shared memory (sqlite.org/vfs.html).
    monkeypatch.setattr(opening, "_uri", lambda *args: f"{plain(*args)}&vfs=unix-dotfile")
    with pytest.raises(ShelfNotUsable, match="a network folder"):
        open_shelf(tmp_path)


def test_a_place_that_cannot_be_made_is_told_of(medium: Path) -> None:
    _make_read_only(medium)
    with pytest.raises(NotWritten, match="that you may write to"):
        open_shelf(medium / "shelf")


def test_a_shelf_on_a_medium_that_cannot_be_written_to_is_read(medium: Path) -> None:
    _filled(medium / "shelf")
    _make_read_only(medium)
    with open_shelf(medium / "shelf") as shelf:
        assert shelf.read_only
        assert [item.state.text for item in shelf.items()] == [TUNE]
        with pytest.raises(ShelfReadOnly, match="can only be read"):
            shelf.add(Kind.TUNE, "new", Form.ABC, TUNE)


def test_a_copy_made_in_the_midst_of_writing_is_not_read_without_its_end(
    medium: Path, tmp_path: Path
) -> None:
    with open_shelf(tmp_path / "shelf") as shelf:
        shelf.add(Kind.TUNE, "latest", Form.ABC, TUNE)
        shutil.copytree(tmp_path / "shelf", medium / "shelf")
    (medium / "shelf" / f"{DATABASE}-shm").unlink()
    _make_read_only(medium)
    with pytest.raises(ShelfNotUsable, match="Copy the folder to where you may write"):
        open_shelf(medium / "shelf")


def test_every_change_of_a_shelf_opened_for_reading_is_refused_and_nothing_is_lost(
    tmp_path: Path,
) -> None:
    with open_shelf(tmp_path) as shelf:
        one = shelf.add(Kind.TUNE, "one", Form.ABC, TUNE).id
        shelf.revise(one, TUNE + "abc|")
    with open_shelf(tmp_path, read_only=True) as shelf:
        before = list(shelf.items()), shelf.states(one)
        for change in (
            lambda: shelf.add(Kind.TAKE, "take", Form.FILE, attachment=b"sound"),
            lambda: shelf.revise(one, "other"),
            lambda: shelf.undo(one),
            lambda: shelf.go_to(one, 1),
            lambda: shelf.remove(one),
            lambda: shelf.link(one, Role.OF, [one]),
            lambda: shelf.db.execute("DELETE FROM item"),
        ):
            with pytest.raises(ShelfReadOnly, match="nothing was changed"):
                change()
        assert (list(shelf.items()), shelf.states(one)) == before
    assert not (tmp_path / "attachments").exists()
    with pytest.raises(ShelfNotUsable, match="there is no shelf here"):
        open_shelf(tmp_path / "elsewhere", read_only=True)
    assert not (tmp_path / "elsewhere").exists()


def test_who_waits_too_long_is_told_that_another_program_writes(tmp_path: Path) -> None:
    with open_shelf(tmp_path) as one, open_shelf(tmp_path, busy=0.02) as other:
        with one.change():
            one.add(Kind.TUNE, "first", Form.ABC, TUNE)
            with pytest.raises(ShelfBusy, match="another program is writing"):
                other.add(Kind.TUNE, "second", Form.ABC, TUNE)
            assert other.counts() == {}  # who reads sees what was committed
        other.add(Kind.TUNE, "second", Form.ABC, TUNE)
        assert [item.name for item in one.items()] == ["first", "second"]


def test_who_reads_sees_one_moment_while_others_write(tmp_path: Path) -> None:
    with open_shelf(tmp_path) as one, open_shelf(tmp_path) as other:
        one.add(Kind.TUNE, "first", Form.ABC, TUNE)
        with other.reading():
            one.add(Kind.TUNE, "second", Form.ABC, TUNE)
            assert other.counts() == {Kind.TUNE: 1}
            with pytest.raises(ShelfError, match="can't be changed while"):
                other.remove(1)
        assert other.counts() == {Kind.TUNE: 2}


def test_a_shelf_serves_the_thread_that_opened_it_and_others_open_it_too(tmp_path: Path) -> None:
    found: list[object] = []

    def elsewhere() -> None:
        try:
            shelf.counts()
        except ShelfError as error:
            found.append(error)
        with open_shelf(tmp_path) as mine:
            found.append(mine.counts())

    with open_shelf(tmp_path) as shelf:
        shelf.add(Kind.TUNE, "one", Form.ABC, TUNE)
        thread = threading.Thread(target=elsewhere)
        thread.start()
        thread.join()
    assert isinstance(found[0], ShelfError) and found[1] == {Kind.TUNE: 1}


def test_threads_that_add_at_once_lose_nothing(tmp_path: Path) -> None:
    def add(name: str) -> None:
        with open_shelf(tmp_path) as mine:
            for nth in range(15):
                mine.add(Kind.TUNE, f"{name} {nth}", Form.ABC, TUNE)

    threads = [threading.Thread(target=add, args=(name,)) for name in "abc"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with open_shelf(tmp_path) as shelf:
        names = {item.name for item in shelf.items()}
    assert names == {f"{name} {nth}" for name in "abc" for nth in range(15)}


# -- forms ----------------------------------------------------------------------------------


def _first_scripts(folder: Path, number: int) -> Path:
    """A folder with the first so many migrations alone, as an earlier version had them."""
    folder.mkdir()
    for script in forms()[:number]:
        shutil.copy(script, folder)
    return folder


def _of_earlier_form(place: Path, number: int) -> None:
    """A shelf with an item, a second state, an attachment and a link, made of plain SQL."""
    open_shelf(place, migrations=_first_scripts(place.with_name("scripts"), number)).close()
    db = sqlite3.connect(place / DATABASE)
    db.executescript(
        """
        BEGIN;
        INSERT INTO attachment VALUES ('{}', 5);
        INSERT INTO item (uid, kind, name, state) VALUES ('{}', 'list', 'evening', 2);
        INSERT INTO item (uid, kind, name, state) VALUES ('{}', 'take', 'latch', 1);
        INSERT INTO state (item, number, parent, at, name, form, text, attachment) VALUES
            (1, 1, 0, '2026-01-02T03:04:05+00:00', 'dusk', 'toml', 'a = 1', NULL),
            (1, 2, 1, '2026-01-02T03:04:06+00:00', 'evening', 'toml', 'a = 2', NULL),
            (2, 1, 0, '2026-01-02T03:04:07+00:00', 'latch', 'file', '', '{}');
        INSERT INTO link (item, to_item, role, place) VALUES (1, 2, 'on', 0), (1, 1, 'on', 1);
        COMMIT;
        """.format("a" * 64, "1" * 32, "2" * 32, "a" * 64)
    )
    db.close()


@pytest.mark.parametrize("form", range(1, len(forms())))
def test_a_shelf_of_every_earlier_form_is_brought_up_to_date_and_a_copy_is_kept(
    tmp_path: Path, form: int
) -> None:
    place = tmp_path / "shelf"
    _of_earlier_form(place, form)
    with pytest.raises(ShelfNotUsable, match="older Reedwright"):
        open_shelf(place, read_only=True)
    with open_shelf(place) as shelf:
        assert shelf.db.execute("PRAGMA user_version").fetchone()[0] == len(forms())
        assert shelf.db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert [state.text for state in shelf.states(1)] == ["a = 1", "a = 2"]
        assert shelf.item(2).state.attachment == "a" * 64
        for item in (shelf.undo(1), shelf.redo(1)):
            assert item.name in ("dusk", "evening")
            assert [link.to for link in shelf.links(1, Role.ON)] == [2, 1]
    copy = place / f"shelf-before-form-{form + 1}.sqlite"
    kept = sqlite3.connect(copy)
    assert kept.execute("PRAGMA user_version").fetchone()[0] == form
    assert kept.execute("SELECT count(*) FROM state").fetchone()[0] == 3
    kept.close()
    assert {path.name for path in place.iterdir()} == {DATABASE, copy.name}


def test_a_new_shelf_has_no_copy_beside_it(tmp_path: Path) -> None:
    _filled(tmp_path)
    assert os.listdir(tmp_path) == [DATABASE]


def test_a_migration_that_fails_leaves_the_shelf_in_the_form_before_it(tmp_path: Path) -> None:
    scripts = _first_scripts(tmp_path / "all", len(forms()))
    number = len(forms())
    _filled(tmp_path / "shelf")
    (scripts / "900-good.sql").write_text("CREATE TABLE good (a);\nINSERT INTO good VALUES (1);")
    (scripts / "901-bad.sql").write_text("CREATE TABLE half (a);\nINSERT INTO nowhere VALUES (1);")
    with pytest.raises(ShelfError, match="no such table: nowhere"):
        open_shelf(tmp_path / "shelf", migrations=scripts)
    db = sqlite3.connect(tmp_path / "shelf" / DATABASE)
    assert db.execute("PRAGMA user_version").fetchone()[0] == number + 1
    tables = {row[0] for row in db.execute("SELECT name FROM sqlite_master")}
    assert "good" in tables and "half" not in tables
    db.close()
    copies = [path.name for path in (tmp_path / "shelf").glob("*before*")]
    assert copies == [f"shelf-before-form-{number + 1}.sqlite"]


def test_two_programs_bring_the_same_shelf_up_to_date_once(tmp_path: Path) -> None:
    place = tmp_path / "shelf"
    _of_earlier_form(place, 1)
    errors: list[Exception] = []

    def open_it() -> None:
        try:
            open_shelf(place).close()
        except Exception as error:
            errors.append(error)

    threads = [threading.Thread(target=open_it) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not errors
    assert len(list(place.glob("*before*"))) >= 1
    with open_shelf(place) as shelf:
        assert len(shelf.states(1)) == 2
