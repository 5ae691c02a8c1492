"""A pack whose sound is the teacher's own recording, through the command line.

The recording is a soundfont's harmonica playing the tune, heard and followed by us.
"""

from __future__ import annotations

import json
import os
import subprocess
from pathlib import Path

import pytest
from cut_by_hand import played
from soundfont_takes import sounded, write_wav

from reedwright.cli.main import main
from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

ABC = (
    "X:1\nT:The Short Way Home\nR:polka\nM:2/4\nL:1/8\nQ:1/4=120\nK:G\n"
    "|:G2 Bd|g2 fe:||:dB cA|G2 G2:|\n"
)
NAME = "the-short-way-home"
MP3S = {f"{NAME}.mp3", f"{NAME}-slow-55.mp3"}


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The tune's file and the take's."""
    folder = tmp_path_factory.mktemp("take")
    (tune,) = read_abc(ABC)
    assert isinstance(tune, Tune)
    abc = folder / "tune.abc"
    abc.write_text(ABC)
    _, notes = played(arrange(tune, make_harp("G"), load_profile("player")), 0.5)
    return abc, write_wav(folder / "take.wav", sounded(notes).sound)


def made(files: tuple[Path, Path], out: Path, *options: str) -> tuple[set[str], dict]:
    abc, take = files
    command = ["pack", str(abc), "--harp", "G", "--out", str(out), "--take", str(take)]
    assert main([*command, "--played-by", "A. Player", *options]) == 0
    folder = out / NAME
    return set(os.listdir(folder)), json.loads((folder / "manifest.json").read_text())


def artist(path: Path) -> str:
    command = ["ffprobe", "-v", "error", "-show_entries", "format_tags=artist", "-of", "csv=p=0"]
    return subprocess.run([*command, str(path)], capture_output=True, check=True, text=True).stdout


def test_a_take_stands_in_place_of_the_synthesised_sound(
    files: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    names, manifest = made(files, tmp_path, "--take-parts")
    parts = {
        f"{NAME}-part-{part}{slow}.mp3"
        for part in ("a-1", "a-2", "b-1", "b-2")
        for slow in ("", "-slow-55")
    }
    assert {name for name in names if name.endswith(".mp3")} == MP3S | parts
    assert {f"{NAME}.mid", f"{NAME}-with-cuts.mid", f"{NAME}-times.json"} <= names
    assert "A. Player" in artist(tmp_path / NAME / f"{NAME}.mp3")
    take = manifest["take"]
    assert take["recording"] == "take.wav"
    assert take["played_by"] == "A. Player"
    assert take["sureness"] > 0.8
    assert "whoever plays has rights in it" in take["rights"]
    assert manifest["settings"]["take_parts"] is True
    assert "the recording" in next(
        file["what"] for file in manifest["files"] if file["name"] == f"{NAME}.mp3"
    )
    assert "whoever plays has rights in it" in (tmp_path / NAME / f"{NAME}.txt").read_text()
    assert "whoever plays has rights in it" in capsys.readouterr().err


def test_a_take_stands_beside_the_synthesised_sound(
    files: tuple[Path, Path], tmp_path: Path
) -> None:
    names, manifest = made(files, tmp_path, "--take-beside")
    own = {f"{NAME}-take.mp3", f"{NAME}-take-slow-55.mp3"}
    assert {name for name in names if name.endswith(".mp3")} == MP3S | own
    assert "Reedwright" in artist(tmp_path / NAME / f"{NAME}.mp3")
    assert "A. Player" in artist(tmp_path / NAME / f"{NAME}-take.mp3")
    assert manifest["take"]["beside_the_synthesised_sound"] is True


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--take", "none.wav"], "No recording none.wav"),
        (["--take-beside"], "No recording was named"),
        (["--take", "TUNE"], ""),
    ],
)
def test_what_is_no_recording_is_told_and_nothing_is_left(
    files: tuple[Path, Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    options: list[str],
    words: str,
) -> None:
    named = [str(files[0]) if each == "TUNE" else each for each in options]
    command = ["pack", str(files[0]), "--harp", "G", "--out", str(tmp_path / "out")]
    assert main([*command, *named]) == 1
    said = capsys.readouterr().err
    assert words in said
    assert "Traceback" not in said
    assert not (tmp_path / "out").exists() or not os.listdir(tmp_path / "out")
