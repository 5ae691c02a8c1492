"""A whole pack, through the command line, opened with other people's programs."""

import hashlib
import json
import os
import signal
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import mido
import pytest
from music21 import converter

from reedwright.cli.main import main

TUNES = Path(__file__).parents[2] / "examples" / "tunes.abc"
NAME = "the-reedmakers-latch"

NO_RIGHTS = "X:1\nT:Nobody's Tune\nR:polka\nM:2/4\nL:1/8\nK:G\nG2 Bd|g2 fe|dB AB|G2 G2|]\n"


@pytest.fixture(scope="module")
def packs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("packs")
    command = ["pack", str(TUNES), "--tune", "1", "--speeds", "80,55", "--out", str(out)]
    assert main(command) == 0
    return out


def test_a_pack_holds_everything_promised_and_nothing_else(packs: Path) -> None:
    assert sorted(os.listdir(packs)) == [NAME, f"{NAME}.zip"]
    assert sorted(os.listdir(packs / NAME)) == sorted(
        [
            "manifest.json",
            f"{NAME}.abc",
            f"{NAME}.mid",
            f"{NAME}.mp3",
            f"{NAME}.musicxml",
            f"{NAME}.pdf",
            f"{NAME}.txt",
            f"{NAME}-slow-55.mp3",
            f"{NAME}-slow-80.mp3",
            f"{NAME}-with-cuts.mid",
        ]
    )


def test_the_manifest_tells_the_true_sums_of_all_files(packs: Path) -> None:
    manifest = json.loads((packs / NAME / "manifest.json").read_text())
    named = {file["name"] for file in manifest["files"]}
    assert named == set(os.listdir(packs / NAME)) - {"manifest.json"}
    for file in manifest["files"]:
        content = (packs / NAME / file["name"]).read_bytes()
        assert hashlib.sha256(content).hexdigest() == file["sha256"]
        assert len(content) == file["bytes"]
    assert manifest["harp"]["tuning"] == "richter-raised-3-blow"
    assert manifest["settings"]["speeds_percent"] == [80, 55]


def test_the_zip_holds_the_folder(packs: Path) -> None:
    with zipfile.ZipFile(packs / f"{NAME}.zip") as archive:
        assert archive.testzip() is None
        for file in os.listdir(packs / NAME):
            assert archive.read(f"{NAME}/{file}") == (packs / NAME / file).read_bytes()


def test_the_same_tune_gives_the_same_bytes(packs: Path, tmp_path: Path) -> None:
    command = [sys.executable, "-m", "reedwright", "pack", str(TUNES), "--tune", "1"]
    command += ["--speeds", "80,55", "--out", str(tmp_path)]
    subprocess.run(command, check=True, capture_output=True)
    assert (tmp_path / f"{NAME}.zip").read_bytes() == (packs / f"{NAME}.zip").read_bytes()


def test_the_notation_opens_elsewhere_with_the_notes_of_the_tune(packs: Path) -> None:
    """MusicXML through music21; MIDI through mido; both against what is written."""
    score = converter.parse(packs / NAME / f"{NAME}.musicxml")
    written = [note for note in score.recurse().notes if not note.duration.isGrace]
    # The upbeat, then the roll on G written out: a cut and a tap stand before its halves.
    assert [note.pitch.nameWithOctave for note in written[:4]] == ["D4", "G4", "G4", "B4"]
    graces = [note for note in score.recurse().notes if note.duration.isGrace]
    assert [note.pitch.nameWithOctave for note in graces[:2]] == ["B4", "E4"]
    assert all(note.lyrics for note in graces)
    assert all(note.lyrics for note in written)
    plain = [m for m in mido.MidiFile(packs / NAME / f"{NAME}.mid") if m.type == "note_on"]
    sounded = [message.note for message in plain if message.velocity]
    assert sounded[:4] == [62, 67, 71, 67]
    with_cuts = mido.MidiFile(packs / NAME / f"{NAME}-with-cuts.mid")
    assert len([m for m in with_cuts if m.type == "note_on" and m.velocity]) > len(sounded)


def test_the_words_read_well_aloud(packs: Path) -> None:
    words = (packs / NAME / f"{NAME}.txt").read_text()
    assert "two draw" in words.lower()
    assert "light-headed" in words
    assert "CC0" in words
    assert not set(words) & set("↑↓+<>|°×"), "no sign that a screen reader stumbles over"


def test_a_tune_without_a_rights_line_says_so_everywhere(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "tune.abc").write_text(NO_RIGHTS)
    command = ["pack", str(tmp_path / "tune.abc"), "--harp", "G", "--out", str(tmp_path / "out")]
    assert main([*command, "--json"]) == 0
    printed = capsys.readouterr()
    assert "Rights were not stated" in printed.err
    assert json.loads(printed.out)["rights"] is None
    folder = tmp_path / "out" / "nobodys-tune"
    assert "Rights were not stated" in (folder / "nobodys-tune.txt").read_text()
    assert "not stated" in (folder / "manifest.json").read_text()


def test_ctrl_c_leaves_the_earlier_pack_and_nothing_half_made(packs: Path) -> None:
    before = {file: (packs / NAME / file).read_bytes() for file in os.listdir(packs / NAME)}
    command = [sys.executable, "-m", "reedwright", "pack", str(TUNES), "--tune", "1"]
    process = subprocess.Popen(
        [*command, "--out", str(packs)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        # A test run in the background of a shell ignores Ctrl-C, and would hand that on.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    deadline = time.monotonic() + 60
    while not list(packs.glob(".making-*")) and time.monotonic() < deadline:
        time.sleep(0.01)
    process.send_signal(signal.SIGINT)
    _, error = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "stopped" in error
    assert "Traceback" not in error
    assert sorted(os.listdir(packs)) == [NAME, f"{NAME}.zip"]
    assert {f: (packs / NAME / f).read_bytes() for f in os.listdir(packs / NAME)} == before
