"""Files are read by what they are, and what can't be read is told in one clear sentence."""

import json
import os
from pathlib import Path

import pytest

from reedwright.tune.abc import AbcError
from reedwright.tune.abc import read_abc as abc_tunes
from reedwright.tune.model import Tune
from reedwright.tune.reading import NotReadable, decoded_lines, read_tunes
from reedwright.tune.refused import Refused
from reedwright.tune.report import refused_report, short_report, text_report, tune_report
from reedwright.tune.rights import rights_line

EXAMPLES = Path(__file__).parents[2] / "examples" / "tunes.abc"
TUNE = "X:1\nT:Caf\u00e9\nM:4/4\nL:1/4\nK:G\n|:GABc:|\n"


def one(text: str) -> Tune:
    tune = abc_tunes(text)[0]
    assert isinstance(tune, Tune)
    return tune


@pytest.mark.parametrize("name", ["a.abc", "a.txt", "a.ABC", "a.abc.txt", "a", "a.unknown"])
@pytest.mark.parametrize("encoding", ["utf-8", "latin-1", "utf-8-sig"])
def test_abc_is_read_whatever_its_name_and_encoding(
    tmp_path: Path, name: str, encoding: str
) -> None:
    path = tmp_path / name
    path.write_bytes(TUNE.encode(encoding))
    tunes = list(read_tunes(path))
    assert [tune.title for tune in tunes if isinstance(tune, Tune)] == ["Caf\u00e9"]


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_every_line_ending_is_one(tmp_path: Path, ending: str) -> None:
    path = tmp_path / "a.abc"
    path.write_bytes(TUNE.replace("\n", ending).encode())
    tune = next(read_tunes(path))
    assert isinstance(tune, Tune)
    assert len(list(tune.voices[0].notes)) == 4
    assert tune.bars[0].place.line == 6


def test_a_declared_charset_is_used_for_lines_that_are_not_utf8() -> None:
    lines = [b"%%abc-charset iso-8859-2\n", "T:\u0141\u00f3d\u017a\n".encode("iso-8859-2")]
    assert list(decoded_lines(lines))[1] == "T:\u0141\u00f3d\u017a\n"
    assert list(decoded_lines([b"%%abc-charset utf-16\n", b"T:\xe9\n"]))[1] == "T:\u00e9\n"


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("none.abc", None, "no such file"),
        ("empty.abc", b"", "empty"),
        ("words.abc", b"This is a letter, not a tune.\n", "no tune"),
        ("picture.png", b"\x89PNG\r\n\x1a\n\x00\x00", "neither ABC nor MusicXML nor MIDI"),
    ],
)
def test_what_cannot_be_read_is_told(
    tmp_path: Path, name: str, content: bytes | None, says: str
) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(NotReadable, match=says) as told:
        list(read_tunes(path))
    assert str(path) in str(told.value)


def test_a_folder_and_a_closed_file_are_told(tmp_path: Path) -> None:
    with pytest.raises(NotReadable, match="folder"):
        list(read_tunes(tmp_path))
    if os.geteuid() != 0:  # root may read everything
        closed = tmp_path / "a.abc"
        closed.write_text(TUNE)
        closed.chmod(0)
        with pytest.raises(NotReadable, match="permission"):
            list(read_tunes(closed))


def test_a_long_tunebook_is_streamed(tmp_path: Path) -> None:
    path = tmp_path / "a.abc"
    path.write_text((TUNE + "\n") * 2000 + "X:9\nT:Last\nK:C\nabc|\n")
    tunes = read_tunes(path)
    first = next(tunes)
    assert isinstance(first, Tune)  # without the rest having been read
    assert sum(1 for _ in tunes) == 2000


def test_midi_and_musicxml_are_known_by_their_content(tmp_path: Path) -> None:
    from reedwright.tune.musicxml import write_musicxml

    path = tmp_path / "score"
    path.write_text(write_musicxml(one(TUNE)), encoding="utf-8")
    tune = next(read_tunes(path))
    assert isinstance(tune, Tune)
    assert tune.key.name == "G major"
    midi = tmp_path / "sound"
    midi.write_bytes(
        b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60MTrk\x00\x00\x00\x0c"
        b"\x00\x90\x3c\x40\x60\x80\x3c\x00\x00\xff\x2f\x00"
    )
    assert isinstance(next(read_tunes(midi)), Tune)


def test_the_report_has_the_documented_shape_and_is_json() -> None:
    report = tune_report(one(TUNE))
    assert json.loads(json.dumps(report)) == report
    assert report["performed"] == [
        [67, 0, 1],
        [69, 1, 1],
        [71, 2, 1],
        [72, 3, 1],
        [67, 4, 1],
        [69, 5, 1],
        [71, 6, 1],
        [72, 7, 1],
    ]
    assert report["key"] == "G major"
    assert report["form"] == "AA" or report["form"] == "A"
    assert (report["bars"], report["bars_played"], report["notes"]) == (1, 2, 4)
    assert report["range"] == {
        "lowest": {"name": "G4", "midi": 67},
        "highest": {"name": "C5", "midi": 72},
    }
    documented = {
        "title",
        "titles",
        "number",
        "type",
        "key",
        "key_estimated",
        "meter",
        "unit_length",
        "tempo",
        "form",
        "parts",
        "bars",
        "bars_played",
        "length",
        "notes",
        "notes_played",
        "range",
        "composer",
        "source",
        "rights",
        "fields",
        "voices",
        "warnings",
        "performed",
    }
    assert set(report) == documented
    formats = (Path(__file__).parents[2] / "docs" / "formats.md").read_text(encoding="utf-8")
    assert all(f"`{name}`" in formats for name in documented)


def test_performed_joins_ties_leaves_graces_out_and_is_sorted() -> None:
    report = tune_report(one("X:1\nT:t\nM:4/4\nL:1/4\nK:C\n[CE]{g}c- c/ e/2z|[Gc]4|]\n"))
    assert report["performed"] == [
        [60, 0, 1],
        [64, 0, 1],
        [72, 1, 1.5],
        [76, 2.5, 0.5],
        [67, 4, 4],
        [72, 4, 4],
    ]


def test_warnings_say_where() -> None:
    report = tune_report(one("X:1\nT:t\nM:4/4\nL:1/4\nK:C\nCDEF|CDEFG|CDEF|]\n"))
    warnings = report["warnings"]
    assert isinstance(warnings, list)
    assert any(warning["line"] == 6 and warning["bar"] == 2 for warning in warnings)
    assert set(warnings[0]) == {"severity", "message", "line", "column", "bar"}


def test_a_refused_tune_is_reported_in_its_place() -> None:
    tunes = abc_tunes("X:5\nT:Broken\nK:Hopeless\nabc|\n")
    refused = tunes[0] if isinstance(tunes[0], Refused) else None
    if refused is None:
        from reedwright.tune.model import Place

        refused = Refused("5", "Broken", AbcError("no such key", Place(3, 3)))
    report = refused_report(refused)
    assert (report["title"], report["number"], report["performed"]) == ("Broken", "5", [])
    error = report["error"]
    assert isinstance(error, dict)
    assert error["line"] == 3
    assert json.dumps(report)


def test_reports_for_people_say_what_matters() -> None:
    tunes = [t for t in read_tunes(EXAMPLES) if isinstance(t, Tune)]
    text = text_report(tunes[0])
    for words in ("The Reedmaker's Latch", "reel", "G major", "AABB", "D4 to B5", "CC0"):
        assert words in text
    assert max(map(len, text.splitlines())) <= 88
    assert "\n" not in short_report(tunes[0])
    assert "not stated" in text_report(one(TUNE))


@pytest.mark.parametrize(
    ("header", "rights"),
    [
        ("Z:abc-copyright (c) A. Person 2026", "(c) A. Person 2026"),
        ("%%abc-copyright Public domain", "Public domain"),
        ("N:Rights: free to play", "free to play"),
        ("S:\u00a9 B. Person", "\u00a9 B. Person"),
        ("Z:Copyright 2020 C. Person", "Copyright 2020 C. Person"),
        ("Z:abc-transcription D. Person", None),
        ("N:It is all right", None),
        ("N:Copyists disagree about bar 3", None),
    ],
)
def test_the_rights_line(header: str, rights: str | None) -> None:
    assert rights_line(one(f"X:1\nT:t\n{header}\nK:C\nabc|\n")) == rights
