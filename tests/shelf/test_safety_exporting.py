"""All of a shelf as plain files, and brought back: the same, and nothing doubled."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from reedwright.files import NotWritten
from reedwright.shelf.facts.keeping import refresh
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.likenesses.deciding import accept, refuse, settings_of
from reedwright.shelf.model import Form, Kind, Role, ShelfError
from reedwright.shelf.safety import exporting
from reedwright.shelf.safety.bringing_back import bring_back
from reedwright.shelf.safety.checking import check
from reedwright.shelf.safety.exporting import export
from reedwright.shelf.safety.index import INDEX

TUNE = "X:1\nT:{}\nM:6/8\nK:G\nGAB d2B|AGA B2G|\n"
# Names that Windows keeps for devices (learn.microsoft.com, "Naming Files, Paths, and Namespaces").
DEVICES = {"con", "prn", "aux", "nul", *(f"{d}{n}" for d in ("com", "lpt") for n in range(1, 10))}


@pytest.fixture
def shelf(tmp_path: Path) -> Iterator[Shelf]:
    with open_shelf(tmp_path / "shelf") as opened:
        yield opened


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Shelf]:
    with open_shelf(tmp_path / "other") as opened:
        yield opened


def kept(shelf: Shelf) -> list[tuple[object, ...]]:
    """All that is kept, told by uid: the numbers of items are of one shelf alone."""
    uids = {row[0]: row[1] for row in shelf.db.execute("SELECT id, uid FROM item")}
    found: list[tuple[object, ...]] = []
    for row in shelf.db.execute("SELECT * FROM item ORDER BY id"):
        found.append((row["uid"], *tuple(row)[2:]))
        found.append(tuple((uids[each.to], each.role, each.place) for each in shelf.links(row[0])))
        for state in shelf.db.execute(
            "SELECT * FROM state WHERE item = ? ORDER BY number", (row[0],)
        ):
            links = [(role, uids[to]) for role, to in json.loads(state["links"])]
            found.append((*tuple(state)[1:-1], *links))
            if state["attachment"]:
                found.append((shelf.attachments.read(state["attachment"]),))
    return found


# -- any shelf ------------------------------------------------------------------------------

TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
NAMES = st.one_of(
    TEXT, st.sampled_from(["con", "CON", "Latch", "latch", "LATCH", "a/b", "..", "", "x" * 300])
)
ABOUT = st.dictionaries(
    st.sampled_from(["file", "line", "date"]),
    st.one_of(
        st.integers(-(2**70), 2**70), TEXT, st.sampled_from(["a.WAV", "b.tar.gz", "c.m4a/.."])
    ),
    max_size=2,
)


@st.composite
def steps(draw: DrawFn) -> tuple[str, int, tuple[object, ...]]:
    what = draw(st.sampled_from(["add", "add", "revise", "undo", "redo", "remove", "link"]))
    which = draw(st.integers(0, 5))
    content = (draw(NAMES), draw(TEXT), draw(st.none() | st.binary(max_size=9)), draw(ABOUT))
    kind = draw(st.sampled_from([kind for kind in Kind if kind is not Kind.TUNE]))
    to = draw(st.lists(st.integers(0, 5), max_size=3))
    return (
        what,
        which,
        (*content, kind, draw(st.sampled_from(Form)), draw(st.sampled_from(Role)), to),
    )


def take(shelf: Shelf, what: str, which: int, more: tuple[object, ...]) -> None:
    name, text, attachment, about, kind, form, role, to = more
    ids = [row[0] for row in shelf.db.execute("SELECT id FROM item ORDER BY id")]
    if what == "add" or not ids:
        shelf.add(kind, name, form, text, attachment, name, about)  # type: ignore[arg-type]
        return
    item = ids[which % len(ids)]
    try:
        if what == "revise":
            shelf.revise(item, text, attachment, name, name, form, about)  # type: ignore[arg-type]
        elif what == "link":
            shelf.link(item, role, [ids[each % len(ids)] for each in to])  # type: ignore[arg-type,attr-defined]
        else:
            getattr(shelf, what)(item)
    except ShelfError:
        pass  # nothing to undo, nothing to redo


@settings(max_examples=25, deadline=None)
@given(st.lists(steps(), max_size=12))
def test_whatever_is_on_a_shelf_comes_back_the_same(
    done: list[tuple[str, int, tuple[object, ...]]],
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        with open_shelf(place / "one") as one, open_shelf(place / "two") as two:
            for shelf in (one, two):
                shelf.db.execute("PRAGMA synchronous = OFF")  # what is kept, not whether on disk
            for what, which, more in done:
                take(one, what, which, more)
            export(one, place / "export")
            names = [path.relative_to(place) for path in (place / "export").rglob("*")]
            for name in names:
                assert len(name.name) < 100
                assert name.name.partition(".")[0].casefold() not in DEVICES
                assert name.name == "READ-ME.txt" or set(name.name) <= set(
                    "abcdefghijklmnopqrstuvwxyz0123456789.-"
                )
            report = bring_back(place / "export", two)
            assert report.problems == () and report.both == () and report.same == 0
            assert kept(two) == kept(one)
            assert check(two).problems == ()
            again = bring_back(place / "export", two)
            assert (again.added, again.forward, again.both, again.problems) == (0, (), (), ())
            assert kept(two) == kept(one)


# -- files ----------------------------------------------------------------------------------


def fill(shelf: Shelf) -> None:
    tune = shelf.add(Kind.TUNE, "The Reedmaker’s Latch", Form.ABC, TUNE.format("Latch")).id
    shelf.revise(tune, TUNE.format("Latch") + "B3 G3|\n", said="longer")
    shelf.add(Kind.TUNE, "the reedmakers latch", Form.ABC, TUNE.format("Other"))
    midi = shelf.add(Kind.TUNE, "Key", Form.MIDI, attachment=b"MThd", about={"file": "a/Key.MID"})
    shelf.remove(midi.id)
    arrangement = shelf.add(Kind.ARRANGEMENT, "usual", Form.TOML, "form = 1\n")
    shelf.link(arrangement.id, Role.OF, [tune])
    lesson = shelf.add(Kind.LESSON, "Mira", Form.TEXT, "slow", about={"date": "2026-11-28"})
    shelf.link(lesson.id, Role.ON, [tune, 2])
    evening = shelf.add(Kind.LIST, "evening", Form.TOML, "a = 1")
    shelf.link(evening.id, Role.ON, [2, tune])


def test_people_find_their_way_in_an_export(shelf: Shelf, tmp_path: Path) -> None:
    fill(shelf)
    report = export(shelf, tmp_path / "export")
    assert (report.items, report.states, report.files, report.problems) == (6, 7, 7, ())
    place = tmp_path / "export"
    files = {path.relative_to(place).as_posix() for path in place.rglob("*") if path.is_file()}
    assert files == {
        INDEX,
        "READ-ME.txt",
        "tunes/the-reedmakers-latch.abc",
        "tunes/the-reedmakers-latch-no-2.abc",
        "tunes/key.mid",
        "history/tunes/the-reedmakers-latch.abc",
        "arrangements/the-reedmakers-latch-usual.toml",
        "lessons/2026-11-28-mira.txt",
        "lists/evening.toml",
    }
    assert (tmp_path / "export/tunes/the-reedmakers-latch.abc").read_bytes() == shelf.item(
        1
    ).state.text.encode()


def test_no_folder_grows_without_end(
    shelf: Shelf, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(exporting, "IN_ONE_FOLDER", 4)
    for nth in range(10):
        shelf.add(Kind.LESSON, "the same", Form.TEXT, str(nth))
    export(shelf, tmp_path / "export")
    counts = {
        path.relative_to(tmp_path / "export").as_posix(): sum(
            each.is_file() for each in path.iterdir()
        )
        for path in (tmp_path / "export").rglob("*")
        if path.is_dir()
    }
    assert counts == {"lessons": 4, "lessons/from-5": 4, "lessons/from-9": 2}


def test_what_was_said_of_settings_is_said_again(
    shelf: Shelf, other: Shelf, tmp_path: Path
) -> None:
    for name in "abc":
        shelf.add(Kind.TUNE, name, Form.ABC, TUNE.format(name))
    refresh(shelf)
    accept(shelf, 1, 2)
    refuse(shelf, 1, 3)
    export(shelf, tmp_path / "export")
    for _ in range(2):
        assert bring_back(tmp_path / "export", other).problems == ()
        rows = other.db.execute("SELECT one, other, verdict FROM likeness ORDER BY one, other")
        assert [tuple(row) for row in rows] == [(1, 2, "settings"), (1, 3, "other tunes")]
    assert set(settings_of(other, 1)) - {1} == {2}


def test_a_lost_attachment_is_told_and_the_rest_is_exported(
    shelf: Shelf, other: Shelf, tmp_path: Path
) -> None:
    fill(shelf)
    shelf.attachments.path(shelf.item(3).state.attachment).unlink()
    report = export(shelf, tmp_path / "export")
    assert len(report.problems) == 1 and "Key" in report.problems[0]
    back = bring_back(tmp_path / "export", other)
    assert back.added == 5 and len(back.problems) == 1 and "key.mid" in back.problems[0]


def test_an_export_that_is_stopped_leaves_nothing(shelf: Shelf, tmp_path: Path) -> None:
    fill(shelf)

    def stop(share: float, doing: str) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        export(shelf, tmp_path / "out" / "export", stop)
    assert os.listdir(tmp_path / "out") == []
    (tmp_path / "out" / "letter").write_text("mine")
    with pytest.raises(NotWritten, match="something in that place already"):
        export(shelf, tmp_path / "out")
    with pytest.raises(NotWritten, match="something in that place already"):
        export(shelf, tmp_path / "out" / "letter")


# -- into a shelf that has some of it --------------------------------------------------------


def test_what_went_on_elsewhere_is_brought_forward(
    shelf: Shelf, other: Shelf, tmp_path: Path
) -> None:
    fill(shelf)
    export(shelf, tmp_path / "first")
    bring_back(tmp_path / "first", other)
    other.revise(1, TUNE.format("Latch, my way"))
    with other.change():
        other.revise(6, "b = 2")
        other.link(6, Role.ON, [2])
    export(other, tmp_path / "second")
    report = bring_back(tmp_path / "second", shelf)
    assert report.forward == ("The Reedmaker’s Latch", "evening") and report.both == ()
    assert (report.added, report.same) == (0, 4)
    assert kept(shelf) == kept(other)
    older = bring_back(tmp_path / "first", shelf)
    assert (older.same, older.forward, older.both) == (6, (), ())
    assert kept(shelf) == kept(other)


def test_what_was_changed_here_and_there_is_told_and_both_are_kept(
    shelf: Shelf, other: Shelf, tmp_path: Path
) -> None:
    fill(shelf)
    export(shelf, tmp_path / "first")
    bring_back(tmp_path / "first", other)
    other.revise(2, "theirs")
    shelf.revise(2, "ours")
    export(other, tmp_path / "second")
    report = bring_back(tmp_path / "second", shelf)
    assert len(report.both) == 1 and "state 3 is what the export says" in report.both[0]
    assert shelf.item(2).state.text == "ours"
    assert shelf.go_to(2, 3).state.text == "theirs" and shelf.undo(2).state.number == 1
    shelf.go_to(2, 2)
    before = kept(shelf)
    assert bring_back(tmp_path / "second", shelf).both == ()
    assert kept(shelf) == before and check(shelf).problems == ()


def test_what_was_taken_off_stays_off(shelf: Shelf, other: Shelf, tmp_path: Path) -> None:
    fill(shelf)
    export(shelf, tmp_path / "export")
    shelf.remove(1)
    bring_back(tmp_path / "export", shelf)
    assert shelf.item(1).removed


# -- harm -----------------------------------------------------------------------------------


@pytest.fixture
def exported(shelf: Shelf, tmp_path: Path) -> Path:
    fill(shelf)
    export(shelf, tmp_path / "export")
    return tmp_path / "export"


def test_files_that_are_missing_or_changed_are_told_one_by_one_and_the_rest_comes_back(
    exported: Path, other: Shelf
) -> None:
    (exported / "tunes/the-reedmakers-latch-no-2.abc").unlink()
    with (exported / "lists/evening.toml").open("a") as file:
        file.write("more = 1\n")
    (exported / "lessons/2026-11-28-mira.txt").write_bytes(b"\xff\xfe")
    report = bring_back(exported, other)
    assert report.added == 3
    told = "\n".join(report.problems)
    assert "no-2.abc: can't be read" in told
    assert "evening.toml: was changed since it was exported" in told
    assert "mira.txt: was changed" in told and len(report.problems) == 3
    assert check(other).problems == ()


def test_where_the_present_state_is_lost_the_one_before_it_comes_back(
    exported: Path, other: Shelf
) -> None:
    (exported / "tunes/the-reedmakers-latch.abc").unlink()
    report = bring_back(exported, other)
    assert len(report.problems) == 1
    assert other.item(1).state.text == TUNE.format("Latch")


def test_where_an_earlier_state_is_lost_the_present_one_comes_back(
    exported: Path, other: Shelf
) -> None:
    shutil.rmtree(exported / "history")
    report = bring_back(exported, other)
    assert len(report.problems) == 1
    assert other.item(1).state.text.endswith("B3 G3|\n")
    with pytest.raises(ShelfError, match="nothing to undo"):
        other.undo(1)
    assert check(other).problems == ()


HARMED_LINES = [
    "  ",
    "{",
    "[]",
    "null",
    '"words"',
    '{"uid": 1}',
    "[" * 3000,
]


@pytest.mark.parametrize("line", HARMED_LINES)
def test_a_line_of_the_index_that_cannot_be_read_is_told_and_the_rest_comes_back(
    exported: Path, other: Shelf, line: str
) -> None:
    lines = (exported / INDEX).read_text("utf-8").splitlines()
    lines[6] = line
    (exported / INDEX).write_text("\n".join(lines), "utf-8")
    report = bring_back(exported, other)
    assert report.added == 5 and "line 7" in report.problems[0]


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("uid", "../../x"), ("kind", "spoon"), ("present", 9), ("present", "1"), ("states", []),
        ("states", None), ("number", 0), ("made_from", 5), ("at", "once"), ("form", "wax"),
        ("said", 3), ("about", {"a": []}), ("links", [["on"]]), ("links", [["x", "1" * 32]]),
        ("text", {"file": "/etc/hostname", "sha256": "0" * 64}),
        ("text", {"file": "../shelf/shelf.sqlite", "sha256": "0" * 64}),
        ("text", {"file": "a\\b", "sha256": "0" * 64}), ("text", {"file": "a"}),
        ("attachment", {"file": "tunes", "sha256": "0" * 64}),
    ],
)  # fmt: skip
def test_whatever_stands_in_a_line_of_the_index_is_told_and_never_harms(
    exported: Path, other: Shelf, key: str, value: object
) -> None:
    lines = (exported / INDEX).read_text("utf-8").splitlines()
    line = json.loads(lines[6])
    (line if key in line else line["states"][0])[key] = value
    lines[6] = json.dumps(line)
    (exported / INDEX).write_text("\n".join(lines), "utf-8")
    report = bring_back(exported, other)
    assert report.added == 5 and len(report.problems) == 1
    assert check(other).problems == ()


def test_a_file_that_leads_out_of_the_export_is_not_followed(
    exported: Path, other: Shelf, tmp_path: Path
) -> None:
    evening = exported / "lists/evening.toml"
    (tmp_path / "secret").write_bytes(evening.read_bytes())
    evening.unlink()
    evening.symlink_to(tmp_path / "secret")
    report = bring_back(exported, other)
    assert report.added == 5 and "leads out of the export" in report.problems[0]


def test_a_link_to_what_was_lost_is_told(exported: Path, other: Shelf) -> None:
    (exported / "tunes/the-reedmakers-latch-no-2.abc").unlink()
    report = bring_back(exported, other)
    assert any("'evening'" in each and "not here" in each for each in report.problems)
    assert [link.to for link in other.links(5)] == [1]


def test_an_index_that_was_cut_off_is_told(exported: Path, other: Shelf) -> None:
    content = (exported / INDEX).read_bytes()
    (exported / INDEX).write_bytes(content[: len(content) // 2])
    report = bring_back(exported, other)
    assert 0 < report.added < 6
    assert "6 items were written" in report.problems[-1]


def test_what_is_no_export_is_refused_and_nothing_is_brought(other: Shelf, tmp_path: Path) -> None:
    with pytest.raises(ShelfError, match="Name the folder that"):
        bring_back(tmp_path / "nowhere", other)
    folder = tmp_path / "folder"
    folder.mkdir()
    for head, told in (
        ("", "not the index"),
        ("letter", "not the index"),
        ('{"reedwright shelf": 7, "items": 1}', "newer Reedwright"),
    ):
        (folder / INDEX).write_text(head)
        with pytest.raises(ShelfError, match=told):
            bring_back(folder, other)
    assert other.counts() == {}


def test_progress_is_told_of_export_and_bringing_back(
    shelf: Shelf, other: Shelf, tmp_path: Path
) -> None:
    fill(shelf)
    for do in (
        lambda tell: export(shelf, tmp_path / "export", tell),
        lambda tell: bring_back(tmp_path / "export", other, tell),
    ):
        shares: list[float] = []
        do(lambda share, doing: shares.append(share))  # noqa: B023
        assert shares == sorted(shares) and shares[-1] == 1
