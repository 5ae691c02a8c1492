"""`reedwright find` as a user meets it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from soundfont_takes import Played, sounded, write_wav

from reedwright.cli.find import moment
from reedwright.cli.main import main

EXAMPLES = Path(__file__).parents[2] / "examples"
TUNES = str(EXAMPLES / "tunes.abc")


def test_typed_notes_find_a_tune_in_a_folder(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["find", "--notes", "G2BG DGBd|g2fg", str(EXAMPLES)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert "100%" in lines[0] and "The Reedmaker's Latch" in lines[0]
    assert "at the written pitch; all notes fit" in lines[1]
    assert "tunes.abc: 1." in lines[2]


def test_json_has_the_documented_shape(capsys: pytest.CaptureFixture[str]) -> None:
    query = ["find", "--notes", "A2cA EAce|a2^ga", "--key", "C", TUNES, "--json", "--limit", "2"]
    assert main(query) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["tunes"] == 7 and 1 <= len(found["matches"]) <= 2
    best = found["matches"][0]
    assert best["title"] == "The Reedmaker's Latch" and best["semitones"] == 2
    assert (best["first_bar"], best["last_bar"]) == (1, 2)
    assert set(best["differences"]) == {"wrong", "missed", "added", "octave", "rhythm"}


def test_ups_and_downs_find_a_tune(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["find", "--contour", "*udduuuududdDUDUD", TUNES, "--limit", "1"]) == 0
    assert "The Reedmaker's Latch" in capsys.readouterr().out


def test_a_few_seconds_of_playing_find_the_tune(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Bars 1 and 2 of the demo reel a fourth higher, after two seconds of another tune's notes."""
    pitches = (67, 71, 67, 62, 67, 71, 74, 79, 78, 79, 76, 74, 71, 74)
    lengths = (2, 1, 1, 1, 1, 1, 1, 2, 1, 1, 1, 1, 1, 1)
    notes = [Played(0.2 + 0.4 * k, 0.55 + 0.4 * k, 60.0 + k % 2) for k in range(4)]
    now = 2.0
    for pitch, length in zip(pitches, lengths, strict=True):
        notes.append(Played(now, now + 0.17 * length - 0.02, pitch + 5.0))
        now += 0.17 * length
    take = write_wav(tmp_path / "take.wav", sounded(notes, noise_db=25.0).sound)
    query = ["find", "--take", str(take), "--from", "0:01.95", "--to", "5", TUNES, "--json"]
    assert main(query) == 0
    best = json.loads(capsys.readouterr().out)["matches"][0]
    assert best["title"] == "The Reedmaker's Latch"
    assert best["semitones"] == 5 and best["score"] > 0.85


def test_a_bad_file_is_told_and_the_rest_is_searched(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "bad.abc").write_text("X:1\nT:Bad\nK:Zmaj\nCDEF|\n\nX:2\nT:Good\nK:G\nGABc d2ef|\n")
    (tmp_path / "empty.abc").touch()
    (tmp_path / "picture.png").touch()
    assert main(["find", "--notes", "GABc d2", str(tmp_path), str(tmp_path / "none.abc")]) == 1
    printed = capsys.readouterr()
    assert "Good" in printed.out
    assert "'Zmaj' is no key" in printed.err and "is empty" in printed.err
    assert "no such file" in printed.err and "picture" not in printed.err


def test_what_is_wrong_is_told_in_a_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["find", "--notes", "GA", TUNES]) == 1
    assert "too few" in capsys.readouterr().err
    assert main(["find", "--notes", "GABc", str(tmp_path)]) == 1
    assert "no tune to search in" in capsys.readouterr().err
    assert main(["find", "--take", str(tmp_path / "none.wav"), TUNES]) == 1
    assert "there is no such file" in capsys.readouterr().err
    assert main(["find", "--notes", "C^c'F^f' ^G,b_E^f' A,^d'", TUNES]) == 0
    assert "Nothing in 7 tunes is like it" in capsys.readouterr().out
    with pytest.raises(SystemExit):
        main(["find", TUNES])


def test_moments_are_read_as_people_write_them() -> None:
    assert (moment("12.5"), moment("1:03"), moment("0:03.5")) == (12.5, 63.0, 3.5)
