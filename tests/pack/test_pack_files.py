"""Nothing already made is lost, and the same input gives the same bytes."""

import os
import zipfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reedwright.errors import ReedwrightError
from reedwright.files import NotWritten, write_whole
from reedwright.folders.manifest import MANIFEST_NAME
from reedwright.folders.names import LONGEST, file_name, unused_file_name
from reedwright.folders.placing import BEFORE, built_aside
from reedwright.folders.zipping import zip_folder


def test_a_title_becomes_a_plain_file_name() -> None:
    assert file_name("The Reedmaker's Latch") == "the-reedmakers-latch"
    assert file_name("Røyne & Ærlig: å gå") == "royne-aerlig-a-ga"
    assert file_name("夜", "7") == "tune-7"
    assert file_name("NUL") == "nul-tune"


@given(st.text())
def test_any_title_gives_a_name_that_every_system_takes(title: str) -> None:
    name = file_name(title, "1")
    assert name
    assert len(name) <= LONGEST + len("-tune")
    assert set(name) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")


def test_a_pack_replaces_the_earlier_one_whole(tmp_path: Path) -> None:
    with built_aside(tmp_path, "latch") as folder:
        (folder / "old.txt").write_text("old")
        (folder / MANIFEST_NAME).write_text('{"files": [{"name": "old.txt"}]}')
    with built_aside(tmp_path, "latch") as folder:
        (folder / "new.txt").write_text("new")
        (folder.parent / "latch.zip").write_text("zip")
        assert (tmp_path / "latch" / "old.txt").exists(), "the old one stays until the new is whole"
    assert os.listdir(tmp_path / "latch") == ["new.txt"]
    assert sorted(os.listdir(tmp_path)) == ["latch", "latch.zip"]


def test_what_a_user_put_into_a_pack_is_kept(tmp_path: Path) -> None:
    with built_aside(tmp_path, "latch") as folder:
        (folder / "page.txt").write_text("old")
        (folder / MANIFEST_NAME).write_text('{"files": [{"name": "page.txt"}]}')
    (tmp_path / "latch" / "my notes.txt").write_text("breathe at bar 9")
    (tmp_path / "latch" / "takes").mkdir()
    (tmp_path / "latch" / "takes" / "one.wav").write_text("take")
    with built_aside(tmp_path, "latch") as folder:
        (folder / "page.txt").write_text("new")
    pack = tmp_path / "latch"
    assert (pack / "my notes.txt").read_text() == "breathe at bar 9"
    assert (pack / "takes" / "one.wav").read_text() == "take"
    assert (pack / "page.txt").read_text() == "new"


def test_a_folder_that_is_no_pack_loses_nothing(tmp_path: Path) -> None:
    (tmp_path / "latch").mkdir()
    (tmp_path / "latch" / "mine.txt").write_text("mine")
    with built_aside(tmp_path, "latch") as folder:
        (folder / "new.txt").write_text("new")
    assert sorted(os.listdir(tmp_path / "latch")) == ["mine.txt", "new.txt"]


def test_a_file_or_folder_in_the_way_is_told_of_and_left(tmp_path: Path) -> None:
    (tmp_path / "latch").write_text("mine")
    with (
        pytest.raises(NotWritten, match=r"latch is a file, .* Move it away"),
        built_aside(tmp_path, "latch"),
    ):
        pass
    assert (tmp_path / "latch").read_text() == "mine"
    (tmp_path / "sail.zip").mkdir()
    with (
        pytest.raises(NotWritten, match=r"sail\.zip is a folder, .* Move it away"),
        built_aside(tmp_path, "sail") as folder,
    ):
        (folder.parent / "sail.zip").write_text("zip")
    assert sorted(os.listdir(tmp_path)) == ["latch", "sail.zip"], "nothing is half exchanged"


def test_an_error_names_the_place_of_the_pack_not_where_it_is_built(tmp_path: Path) -> None:
    with pytest.raises(NotWritten) as told, built_aside(tmp_path, "latch") as folder:
        write_whole(folder / "nowhere" / "sound.mp3", b"")
    assert str(told.value).startswith(f"{tmp_path / 'latch' / 'nowhere' / 'sound.mp3'}: cannot")
    assert os.listdir(tmp_path) == []


def test_packs_of_one_name_made_at_once_end_as_one_whole_pack(tmp_path: Path) -> None:
    def make(mark: int) -> None:
        for _ in range(20):
            with built_aside(tmp_path, "latch") as folder:
                (folder / "a.txt").write_text(str(mark))
                (folder / "b.txt").write_text(str(mark))

    with ThreadPoolExecutor(max_workers=4) as several:
        for done in [several.submit(make, mark) for mark in range(4)]:
            done.result()
    assert os.listdir(tmp_path) == ["latch"]
    assert (tmp_path / "latch" / "a.txt").read_text() == (tmp_path / "latch" / "b.txt").read_text()


def test_tunes_that_share_a_title_have_names_of_their_own() -> None:
    long = "The tune of the very long name that goes on " * 3
    used: set[str] = set()
    for title, number in (
        (long, "1"),
        (long, "2"),
        (long, "2"),
        ("夜", "3"),
        ("昼", "3"),
        ("夜", ""),
    ):
        name = unused_file_name(title, number, used)
        assert name not in used
        assert len(name) <= LONGEST
        used.add(name)
    assert unused_file_name("Sail", "7", {"sail"}) == "sail-7"


@pytest.mark.parametrize("trouble", [ValueError, KeyboardInterrupt])
def test_an_earlier_pack_survives_trouble(tmp_path: Path, trouble: type[BaseException]) -> None:
    with built_aside(tmp_path, "latch") as folder:
        (folder / "old.txt").write_text("old")
    with pytest.raises(trouble), built_aside(tmp_path, "latch") as folder:
        (folder / "new.txt").write_text("new")
        raise trouble
    assert os.listdir(tmp_path / "latch") == ["old.txt"]
    assert os.listdir(tmp_path) == ["latch"]


def test_an_exchange_killed_half_way_is_put_right(tmp_path: Path) -> None:
    earlier = tmp_path / f"{BEFORE}latch"
    earlier.mkdir()
    (earlier / "old.txt").write_text("old")
    with pytest.raises(ValueError, match="again"), built_aside(tmp_path, "latch"):
        raise ValueError("again")
    assert os.listdir(tmp_path / "latch") == ["old.txt"]


def test_an_out_folder_that_is_a_file_is_a_clear_error(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    with (
        pytest.raises(ReedwrightError, match="cannot be written"),
        built_aside(tmp_path / "out", "latch"),
    ):
        pass


def test_zip_bytes_do_not_depend_on_when_or_in_what_order_files_were_made(tmp_path: Path) -> None:
    made = []
    for run, names in enumerate((("a.txt", "b.mp3"), ("b.mp3", "a.txt"))):
        folder = tmp_path / str(run) / "latch"
        folder.mkdir(parents=True)
        for name in names:
            (folder / name).write_text(name)
            os.utime(folder / name, (run * 10_000_000, run * 10_000_000))
        zip_folder(folder, tmp_path / f"{run}.zip")
        made.append((tmp_path / f"{run}.zip").read_bytes())
    assert made[0] == made[1]
    with zipfile.ZipFile(tmp_path / "0.zip") as archive:
        assert archive.testzip() is None
        assert archive.namelist() == ["latch/a.txt", "latch/b.mp3"]


def test_a_file_is_replaced_whole_and_nothing_else_is_left(tmp_path: Path) -> None:
    write_whole(tmp_path / "x.txt", b"one")
    write_whole(tmp_path / "x.txt", b"two")
    assert (tmp_path / "x.txt").read_bytes() == b"two"
    assert os.listdir(tmp_path) == ["x.txt"]
    with pytest.raises(ReedwrightError, match="cannot be written"):
        write_whole(tmp_path / "nowhere" / "x.txt", b"three")
