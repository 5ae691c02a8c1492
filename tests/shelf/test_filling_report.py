"""What is told of an import."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from reedwright.shelf.filling.report import (
    ImportReport,
    report_json,
    report_text,
    write_report,
)
from reedwright.shelf.filling.told import Told


def told(n: int, message: str) -> Told:
    return Told("book.abc", message, n, 3, str(n), f"Tune {n}")


REPORT = ImportReport(
    added=tuple(range(1, 1235)),
    same=30,
    removed_before=1,
    changed=(told(9, ""),),
    repaired=(
        *(told(n, f"bar {n}: '{n}' is odd; read as {n + 1}") for n in range(1, 9)),
        told(3, "another thing"),
    ),
    refused=tuple(told(n, "no music\n    cdf\n    ^") for n in range(20, 40)),
    files=12,
    settings=7,
    seconds=3.14159,
)


def test_the_terminal_gets_a_few_of_each_and_the_rest_counted() -> None:
    text = report_text(REPORT)
    assert text.startswith("1,234 tunes were taken in from 12 files.\n29 tunes were on the shelf")
    assert "1 tune was taken off the shelf before" in text
    assert "8 tunes had something odd that was repaired:\n  8 tunes: '1' is odd" in text
    assert "first in book.abc, line 1, column 3: 1. Tune 1" in text
    assert "20 tunes or files could not be taken in:" in text
    assert text.count("no music") == 5
    assert "and 15 more." in text
    assert "7 pairs of tunes that seem to be settings" in text and "Nothing was merged" in text
    assert len(text.splitlines()) < 50


def test_one_is_told_as_one() -> None:
    text = report_text(ImportReport(added=(1,), files=1, refused=(told(1, "no"),), graded=1))
    assert text.startswith("1 tune was taken in from 1 file.\n")
    assert "1 tune or file could not be taken in:" in text
    assert "How hard" not in text


def test_programs_get_all_of_it() -> None:
    report = json.loads(json.dumps(report_json(REPORT)))
    assert len(report["refused"]) == 20
    assert report["repaired"][0] == {
        "file": "book.abc",
        "line": 1,
        "column": 3,
        "number": "1",
        "title": "Tune 1",
        "message": "bar 1: '1' is odd; read as 2",
    }
    assert report["settings"] == 7


def test_a_file_gets_all_of_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "told.txt"
    write_report(REPORT, path)
    text = path.read_text("utf-8")
    assert text.count("no music") == 20
    assert text.count("is odd") >= 8
    write_report(ImportReport(), path)
    assert path.read_text("utf-8").startswith("There are no files of ABC")
    monkeypatch.chdir(tmp_path)
    here = Told(str(tmp_path / "book.abc"), "x", 2)
    assert here.where == "book.abc, line 2"


def test_a_place_without_tunes_is_said_to_be_one() -> None:
    assert "no files of ABC" in report_text(ImportReport())
