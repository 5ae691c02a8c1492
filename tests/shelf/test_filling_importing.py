"""Tunes taken in from files, folders and zips, and again without doubling."""

from __future__ import annotations

import os
import sys
import tempfile
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from reedwright.shelf.changing import undo
from reedwright.shelf.facts.grades import grade_on
from reedwright.shelf.facts.keeping import facts_on, stale
from reedwright.shelf.facts.reading import tune_of
from reedwright.shelf.facts.tunes import revise_tune
from reedwright.shelf.facts.working_out import facts_of
from reedwright.shelf.filling import importing
from reedwright.shelf.filling.importing import ImportOptions, import_tunes
from reedwright.shelf.filling.report import ImportReport, report_text
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item, Kind
from reedwright.tune.abc import read_abc, same_music, write_abc
from reedwright.tune.model import Tune
from reedwright.tune.musicxml.score import write_musicxml
from reedwright.tune.reading import read_tunes
from reedwright.tune.transpose import transposed
from shelf_corpus import make_corpus, read_manifest

QUAY = "X:1\nT:The Salt Quay\nR:jig\nM:6/8\nL:1/8\nK:G\nGAB d2B | AGA B2G |]\n"
ROOK = "X:2\nT:Rookery Loan\nR:reel\nM:4/4\nL:1/8\nK:D\nDFAF dFAF | EDEF E2 D2 |]\n"
BROKEN = "X:3\nT:Nothing in it\nM:6/8\nK:nonsense\nabc def |]\n"
# A MIDI file by hand: format 0, 96 ticks to the quarter, one note C4 of a quarter
# (Standard MIDI Files 1.0, The MIDI Association).
MIDI = bytes.fromhex(
    "4d546864 00000006 0000 0001 0060 4d54726b 0000000c 00903c40 60803c40 00ff2f00".replace(" ", "")
)
PLAIN = ImportOptions(settings=False, grade=False, workers=1)
UPDATE = ImportOptions(settings=False, grade=False, workers=1, update=True)


@pytest.fixture
def shelf(tmp_path: Path) -> Iterator[Shelf]:
    with open_shelf(tmp_path / "shelf") as opened:
        yield opened


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "tunes"
    made.mkdir()
    return made


def written(folder: Path, name: str, *tunes: str) -> Path:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join(tunes), "utf-8")
    return path


def names(shelf: Shelf) -> list[str]:
    return sorted(item.name for item in shelf.items(Kind.TUNE))


def only(shelf: Shelf) -> Item:
    (item,) = shelf.items(Kind.TUNE)
    return item


def tune_in(text: str) -> Tune:
    (tune,) = read_abc(text)
    assert isinstance(tune, Tune)
    return tune


def test_folders_zips_and_every_format_are_taken_in(shelf: Shelf, folder: Path) -> None:
    written(folder, "a/b/c/deep.abc", QUAY)
    score = write_musicxml(tune_in(ROOK))
    written(folder, "a/score.musicxml", score)
    (folder / "note.mid").write_bytes(MIDI)
    for name in ("packed.mxl", "misnamed.zip"):  # one score each, not zips of tunes
        with zipfile.ZipFile(folder / name, "w") as archive:
            archive.writestr("META-INF/container.xml", "<container/>")
            archive.writestr("score.xml", score.replace("Rookery Loan", name))
    with zipfile.ZipFile(folder / "more.zip", "w") as archive:
        archive.writestr("x/y/z.abc", ROOK.replace("Rookery", "Zipped"))
        archive.writestr("x/note.mid", MIDI.replace(b"\x3c", b"\x3e"))
        archive.writestr("x/read me.doc", "nothing")
    report = import_tunes(shelf, [folder], PLAIN)
    assert not report.refused
    assert report.files == 7
    assert names(shelf) == [
        "Rookery Loan",
        "The Salt Quay",
        "Zipped Loan",
        "misnamed.zip",
        "note",
        "note",
        "packed.mxl",
    ]
    by_name = {item.name: item for item in shelf.items(Kind.TUNE)}
    assert by_name["The Salt Quay"].state.text == QUAY
    assert by_name["The Salt Quay"].state.about == {
        "file": str(folder / "a/b/c/deep.abc"),
        "line": 1,
        "number": "1",
    }
    assert by_name["Zipped Loan"].state.about["file"] == str(folder / "more.zip/x/y/z.abc")
    assert by_name["misnamed.zip"].state.form is Form.MUSICXML
    assert same_music(tune_of(shelf, by_name["Rookery Loan"]), next(_read(folder / "a")))
    for item in shelf.items(Kind.TUNE):
        assert facts_on(shelf, item.id) == facts_of(tune_of(shelf, item), item.name)
    again = import_tunes(shelf, [folder], PLAIN)
    assert (again.added, again.same) == ((), 7)


def _read(folder: Path) -> Iterator[Tune]:
    (tune,) = read_tunes(folder / "score.musicxml")
    assert isinstance(tune, Tune)
    yield tune


def test_a_broken_tune_is_told_by_its_place_and_the_others_go_on(
    shelf: Shelf, folder: Path
) -> None:
    path = written(folder, "book.abc", QUAY, BROKEN, ROOK)
    written(folder, "bad.xml", "<score-partwise>")
    (folder / "bad.mid").write_bytes(b"MThd")
    (folder / "bad.zip").write_bytes(b"PK\x03\x04 and no more")
    (folder / "empty.abc").write_bytes(b"")
    report = import_tunes(shelf, [folder, folder / "missing"], PLAIN)
    assert names(shelf) == ["Rookery Loan", "The Salt Quay"]
    told = {Path(each.file).name: each for each in report.refused}
    assert set(told) == {"book.abc", "bad.xml", "bad.mid", "bad.zip", "empty.abc", "missing"}
    broken = told["book.abc"]
    assert (broken.file, broken.line, broken.column) == (str(path), 12, 3)
    assert (broken.number, broken.title) == ("3", "Nothing in it")
    assert broken.message.startswith("'nonsense' is no key.")
    assert "K:nonsense" in broken.message
    for each in told.values():
        assert str(each).count(each.file) == 1  # the place is told once


def test_what_was_repaired_is_told(shelf: Shelf, folder: Path) -> None:
    written(folder, "book.abc", QUAY, ROOK.replace("K:D\n", "K:D\n\n").replace(" |]", " :|"))
    report = import_tunes(shelf, [folder], PLAIN)
    assert {(each.title, each.line) for each in report.repaired} == {("Rookery Loan", 16)}
    assert len(report.added) == 2


def test_a_fault_at_one_tune_stops_no_other(
    shelf: Shelf, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    written(folder, "book.abc", QUAY, ROOK)

    def fails(tune: Tune, untitled: str = "") -> object:
        if tune.number == "1":
            raise IndexError("out of reach")
        return facts_of(tune, untitled)

    monkeypatch.setattr("reedwright.shelf.filling.cutting.facts_of", fails)
    report = import_tunes(shelf, [folder], PLAIN)
    assert names(shelf) == ["Rookery Loan"]
    assert "IndexError: out of reach" in report.refused[0].message


def test_the_same_text_comes_in_once(shelf: Shelf, folder: Path) -> None:
    written(folder, "one.abc", QUAY, ROOK)
    written(folder, "two.abc", QUAY.replace("X:1", "X:88"), QUAY.replace("B2G", "B2A"))
    report = import_tunes(shelf, [folder], PLAIN)
    assert (len(report.added), report.same) == (3, 1)
    (folder / "one.abc").write_bytes((folder / "one.abc").read_bytes().replace(b"\n", b"\r\n"))
    again = import_tunes(shelf, [folder, folder / "one.abc"], PLAIN)
    assert (again.added, again.same, again.changed) == ((), 4, ())


def test_fields_of_the_book_are_part_of_its_tunes(shelf: Shelf, folder: Path) -> None:
    tune = "X:1\nT:One\nK:C\ncdef|]\n"
    written(folder, "one.abc", tune)
    written(folder, "two.abc", "L:1/16\n", tune)
    report = import_tunes(shelf, [folder], PLAIN)
    assert len(report.added) == 2
    first, second = shelf.items(Kind.TUNE)
    assert second.state.text == first.state.text == tune
    assert tune_of(shelf, second).bars[0].length * 2 == tune_of(shelf, first).bars[0].length
    for item in (first, second):
        assert facts_on(shelf, item.id) == facts_of(tune_of(shelf, item))


def test_a_tune_changed_in_its_file_is_offered_and_taken_over_when_asked(
    shelf: Shelf, folder: Path
) -> None:
    path = written(folder, "book.abc", QUAY, ROOK)
    import_tunes(shelf, [path], PLAIN)
    written(folder, "book.abc", QUAY.replace("B2G", "G3"), ROOK)
    report = import_tunes(shelf, [path], PLAIN)
    assert [each.title for each in report.changed] == ["The Salt Quay"]
    assert (report.added, report.updated, report.same) == ((), (), 1)
    quay = next(item for item in shelf.items(Kind.TUNE) if item.name == "The Salt Quay")
    assert quay.state.text == QUAY
    report = import_tunes(shelf, [path], UPDATE)
    assert [each.title for each in report.updated] == ["The Salt Quay"]
    assert report.added == ()
    assert shelf.item(quay.id).state.text == QUAY.replace("B2G", "G3")
    assert not stale(shelf)
    assert import_tunes(shelf, [path], UPDATE).same == 2
    undo(shelf, quay.id)
    assert shelf.item(quay.id).state.text == QUAY
    assert not stale(shelf)


def test_a_file_that_went_back_to_what_it_was_is_followed(shelf: Shelf, folder: Path) -> None:
    path = written(folder, "book.abc", QUAY)
    import_tunes(shelf, [path], PLAIN)
    written(folder, "book.abc", QUAY.replace("B2G", "G3"))
    import_tunes(shelf, [path], UPDATE)
    written(folder, "book.abc", QUAY)
    assert len(import_tunes(shelf, [path], PLAIN).changed) == 1
    assert len(import_tunes(shelf, [path], UPDATE).updated) == 1
    assert only(shelf).state.text == QUAY


def test_what_was_changed_on_the_shelf_is_kept(shelf: Shelf, folder: Path) -> None:
    path = written(folder, "book.abc", QUAY)
    import_tunes(shelf, [path], PLAIN)
    mine = QUAY.replace("GAB", "GFG")
    revise_tune(shelf, only(shelf).id, tune_in(mine))
    report = import_tunes(shelf, [path], UPDATE)  # the file is as it was
    assert (report.same, report.added, report.updated) == (1, (), ())
    written(folder, "book.abc", QUAY.replace("B2G", "G3"))
    report = import_tunes(shelf, [path], UPDATE)
    assert [each.title for each in report.both_changed] == ["The Salt Quay"]
    assert only(shelf).state.text == mine


def test_a_score_changed_in_its_file_is_followed(shelf: Shelf, folder: Path) -> None:
    path = folder / "score.musicxml"
    path.write_text(write_musicxml(tune_in(QUAY)), "utf-8")
    import_tunes(shelf, [path], PLAIN)
    path.write_text(write_musicxml(tune_in(ROOK)), "utf-8")
    assert len(import_tunes(shelf, [path], UPDATE).updated) == 1
    assert only(shelf).name == "Rookery Loan"


def test_a_removed_tune_does_not_come_back_by_itself(shelf: Shelf, folder: Path) -> None:
    path = written(folder, "book.abc", QUAY, ROOK)
    import_tunes(shelf, [path], PLAIN)
    shelf.remove(next(item.id for item in shelf.items(Kind.TUNE) if item.name == "Rookery Loan"))
    report = import_tunes(shelf, [path], UPDATE)
    assert (report.same, report.removed_before, report.added) == (2, 1, ())
    assert names(shelf) == ["The Salt Quay"]


def test_tunes_of_one_number_and_title_are_told_apart(shelf: Shelf, folder: Path) -> None:
    other = QUAY.replace("GAB", "BAG")
    path = written(folder, "book.abc", QUAY, other)
    assert len(import_tunes(shelf, [path], UPDATE).added) == 2
    written(folder, "book.abc", QUAY, other, QUAY.replace("GAB", "AAA"))
    report = import_tunes(shelf, [path], UPDATE)
    assert (len(report.added), report.updated) == (1, ())
    # Nobody can say which of three this one was: it is a new tune.
    written(folder, "book.abc", QUAY.replace("GAB", "ddd"))
    report = import_tunes(shelf, [path], UPDATE)
    assert (len(report.added), report.updated) == (1, ())


def test_the_same_notes_under_other_words_are_added_and_counted(shelf: Shelf, folder: Path) -> None:
    written(folder, "book.abc", QUAY, QUAY.replace("The Salt Quay", "Lantern Moss"))
    report = import_tunes(shelf, [folder], PLAIN)
    assert (len(report.added), report.other_words) == (2, 1)


def test_encodings_are_taken_as_they_are(shelf: Shelf, folder: Path) -> None:
    title = "Tónleikar í Ærø"
    lines = QUAY.replace("The Salt Quay", title).splitlines(keepends=True)
    mixed = lines[0].encode() + lines[1].encode("latin-1") + b"C:Jos\xc3\xa9\n"
    (folder / "mixed.abc").write_bytes(mixed + "".join(lines[2:]).encode())
    (folder / "wide.abc").write_text(ROOK.replace("Rookery", "Łódź"), "utf-16")
    (folder / "east.abc").write_bytes(
        b"%%abc-charset iso-8859-2\n" + ROOK.replace("Rookery", "Kraków łąka").encode("iso8859-2")
    )
    (folder / "windows.txt").write_bytes(QUAY.replace("The Salt", "Nell’s").encode("cp1252"))
    report = import_tunes(shelf, [folder], PLAIN)
    assert not report.refused
    assert names(shelf) == sorted([title, "Łódź Loan", "Kraków łąka Loan", "Nell’s Quay"])
    facts = [facts_on(shelf, item.id) for item in shelf.items(Kind.TUNE)]
    assert "José" in {each.composer for each in facts if each is not None}


def test_other_texts_in_a_folder_are_passed_over(shelf: Shelf, folder: Path) -> None:
    written(folder, "book.abc", QUAY)
    notes = written(folder, "notes.txt", "Remember the strings.")
    written(folder, ".hidden/old.abc", ROOK)
    written(folder, "__MACOSX/book.abc", "nonsense")
    written(folder, "._book.abc", "nonsense")
    written(folder, "letter.doc", ROOK)
    (folder / "round").symlink_to(folder, target_is_directory=True)
    (folder / "again.abc").symlink_to(folder / "book.abc")
    report = import_tunes(shelf, [folder], PLAIN)
    assert (report.refused, names(shelf)) == ((), ["The Salt Quay"])
    assert report.files == 2  # the book and the notes
    report = import_tunes(shelf, [notes, folder / "letter.doc"], PLAIN)
    assert [each.message for each in report.refused] == [
        "There is no tune in this file. A tune in ABC begins with a line `X:1`."
    ]
    assert names(shelf) == ["Rookery Loan", "The Salt Quay"]  # what is named is read by its content


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such pipes")
def test_a_file_that_is_named_is_read_by_what_is_in_it(shelf: Shelf, folder: Path) -> None:
    with zipfile.ZipFile(folder / "old.backup", "w") as archive:
        archive.writestr("quay.abc", QUAY)
    (folder / "picture.png").write_bytes(b"\x89PNG\r\n")
    (folder / "note.dat").write_bytes(MIDI)
    os.mkfifo(folder / "pipe.abc")
    named = sorted(folder.iterdir())
    report = import_tunes(shelf, named, PLAIN)
    assert names(shelf) == ["The Salt Quay", "note"]
    assert [(Path(each.file).name, each.message) for each in report.refused] == [
        ("picture.png", "This is neither ABC nor MusicXML nor MIDI nor a zip of such files."),
        ("pipe.abc", "This is neither a file nor a folder."),
    ]
    assert import_tunes(shelf, [folder], PLAIN).files == 0  # in a folder the endings count


def test_processes_find_what_one_finds(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made = make_corpus(tmp_path / "corpus", 120, seed=7, collections=("airdsAirs",))
    monkeypatch.setattr(importing, "AT_ONCE", 40)
    kept: list[list[tuple[object, ...]]] = []
    reports: list[ImportReport] = []
    shares: list[float] = []
    for workers in (1, 2):
        with open_shelf(tmp_path / f"shelf{workers}") as shelf:
            options = ImportOptions(settings=False, grade=False, workers=workers)
            monkeypatch.setattr(importing, "FEW_BYTES", 0)
            reports.append(
                import_tunes(
                    shelf, [tmp_path / "corpus"], options, lambda share, _: shares.append(share)
                )
            )
            rows = shelf.db.execute("SELECT * FROM fact ORDER BY item")
            kept.append([tuple(row) for row in rows])
            texts = {item.state.text for item in shelf.items()}
    assert kept[0] == kept[1] and len(kept[0]) > 110
    one, two = reports
    assert (one.added, one.repaired, one.refused) == (two.added, two.repaired, two.refused)
    assert all(0 <= share <= 1 for share in shares)
    assert shares[: len(shares) // 2] == sorted(shares[: len(shares) // 2])
    # Nothing but repeated texts and refused tunes is missing of what the maker says it made.
    assert len(made) == 120
    assert read_manifest(tmp_path / "corpus") == made
    assert len(one.added) + one.same + len(one.refused) == 120
    assert len(texts) == len(one.added)


@pytest.mark.skipif(sys.platform != "linux", reason="other systems have no such names")
def test_a_name_of_no_encoding_stops_nothing(shelf: Shelf, folder: Path) -> None:
    (folder / os.fsdecode(b"quay-\xff.abc")).write_text(QUAY.replace("T:The Salt Quay\n", ""))
    report = import_tunes(shelf, [folder], PLAIN)
    assert names(shelf) == ["quay-\ufffd"]
    assert import_tunes(shelf, [folder], PLAIN).same == len(report.added) == 1


def test_settings_are_offered_and_not_merged(shelf: Shelf, folder: Path) -> None:
    text = (
        "X:1\nT:The Salt Quay\nR:jig\nM:6/8\nL:1/8\nK:G\n"
        "|: GAB d2B | AGA B2G | GAB dBd | e2d B3 | GAB d2B | AGA B2G | EFG ABc | B2A G3 :|\n"
        "|: gfg e2d | BGB d2B | gfg aga | b2a g3 | gfg e2d | BGB d2B | cBA GFE | D2F G3 :|\n"
    )
    written(folder, "one.abc", text)
    written(folder, "two.abc", write_abc(transposed(tune_in(text), 5)), ROOK)
    report = import_tunes(shelf, [folder], ImportOptions(workers=1))
    assert (len(report.added), report.settings) == (3, 1)
    assert report.graded == 3 and report.player == "player"
    assert all(grade_on(shelf, item) is not None for item in report.added)
    again = import_tunes(shelf, [folder], ImportOptions(workers=1))
    assert (again.added, again.settings, again.graded) == ((), 0, 0)


def test_many_are_graded_later(shelf: Shelf, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(importing, "GRADED_AT_ONCE", 1)
    written(folder, "one.abc", QUAY, ROOK)
    report = import_tunes(shelf, [folder], ImportOptions(settings=False, workers=1))
    assert report.graded == 0
    assert "How hard they are is not worked out yet" in report_text(report)


def test_what_is_longer_than_any_tune_is_not_read(shelf: Shelf, folder: Path) -> None:
    long = "X:1\nT:Without end\nK:C\n" + "cdef gabc|\n" * 30_000
    written(folder, "book.abc", QUAY, long, ROOK)
    written(folder, "prose.abc", QUAY.replace("Salt", "First"), "no music\n" * 150_000, ROOK)
    (folder / "line.abc").write_bytes(b"c" * 2_000_000)
    report = import_tunes(shelf, [folder], PLAIN)
    assert names(shelf) == ["Rookery Loan", "The First Quay", "The Salt Quay"]
    told = {Path(each.file).name: each for each in report.refused}
    assert set(told) == {"book.abc", "prose.abc", "line.abc"}
    assert (told["book.abc"].title, told["book.abc"].line) == ("Without end", 9)


lines = st.sampled_from(
    [
        b"X:1", b"X:2", b"X: 2", b"", b"T:Quay", b"T:Q\xe9", b"T:Q\xc3\xa9", b"M:6/8", b"L:1/16",
        b"K:G", b"K:nonsense", b"GAB d2B|", b"abc |]", b"% note", b"w:la la", b"V:2", b"prose here",
        b"A:|", b"P:A", b"\x00\x07", b"r:", b"%%abc-charset utf-8", b"|:G|1A:|2B|]",
    ]
)  # fmt: skip
ends = st.sampled_from([b"\n", b"\r\n", b"\r", b"\n\n", b" \n"])


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(lines, ends), max_size=30), st.booleans())
@example([(line, b"\n") for line in (b"X:1", b"T:a\x00b", b"K:G", b"GAB|")], True)
def test_whatever_is_in_a_file_comes_in_once(parts: list[tuple[bytes, bytes]], wide: bool) -> None:
    content = b"".join(line + end for line, end in parts)
    if wide:
        content = content.decode("latin-1").encode("utf-16")
    with tempfile.TemporaryDirectory() as place, open_shelf(Path(place) / "shelf") as shelf:
        path = Path(place) / "book.abc"
        path.write_bytes(content)
        first = import_tunes(shelf, [path], PLAIN)
        again = import_tunes(shelf, [path], UPDATE)
        assert (again.added, again.updated, again.changed) == ((), (), ())
        assert again.same == len(first.added) + first.same
        assert again.refused == first.refused
        for item in shelf.items(Kind.TUNE):
            assert facts_on(shelf, item.id) == facts_of(tune_of(shelf, item), "book")
