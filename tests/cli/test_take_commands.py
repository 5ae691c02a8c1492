"""`take`, `transcribe` and `pack --take` as a musician meets them: a phone's file in, a folder out.

The playing is FluidSynth's (soundfont_takes), coded by FFmpeg as a phone would.
"""

import json
import subprocess
from pathlib import Path

import numpy as np
import pytest
from soundfont_takes import RATE, Played, notes_of, sounded, write_wav
from sounding_tunes import EXAMPLES, JIG, example

from reedwright.cli.main import main
from reedwright.sound.timing import plan
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.unfold import unfold

TUNES = str(EXAMPLES)


@pytest.fixture(scope="session")
def phone_take(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo jig on a D harp, half a semitone's quarter sharp, in a room, as an m4a."""
    folder = tmp_path_factory.mktemp("phone")
    notes = notes_of(plan(example(JIG), speed=1.15, count_in=False))
    later = [note._replace(start=note.start + 2, end=note.end + 2) for note in notes]
    take = sounded(later, cents=12, reverberation=0.2, noise_db=35)
    wav = write_wav(folder / "take.wav", take.sound)
    coded = folder / "Kitchen take.m4a"
    subprocess.run(
        ["ffmpeg", "-v", "error", "-i", str(wav), "-c:a", "aac", "-b:a", "128k", str(coded)],
        check=True,
    )
    return coded


def test_a_phones_recording_becomes_a_report_and_tracks(
    phone_take: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = ["take", str(phone_take), "--tune", TUNES, "--which", "2", "--parts"]
    arguments += ["--loops", "3-4", "--rounds", "2", "--out", str(tmp_path), "--json"]
    assert main([*arguments, "--artist", "Hedda Quill"]) == 0
    done = json.loads(capsys.readouterr().out)
    folder = tmp_path / "two-loaves-and-a-lantern-kitchen-take"
    assert str(folder) == done["folder"]
    assert sorted(done["files"]) == sorted(each.name for each in folder.iterdir())
    for name in ("", "-slow-55", "-part-a-1", "-part-b-2", "-loop-bars-3-4-at-55"):
        assert (folder / f"two-loaves-and-a-lantern{name}.mp3").stat().st_size > 10_000
    assert (folder / "two-loaves-and-a-lantern-report.pdf").read_bytes()[:5] == b"%PDF-"
    report = json.loads((folder / "two-loaves-and-a-lantern-report.json").read_bytes())
    assert report == done["report"]
    manifest = json.loads((folder / "manifest.json").read_bytes())
    # 12 cents above A 440 is 443.06 Hz.
    assert manifest["take"]["reference_pitch_hz"] == pytest.approx(443.06, abs=0.4)
    assert {file["name"] for file in manifest["files"]} == set(done["files"]) - {"manifest.json"}


def test_without_a_tune_a_take_is_trimmed_levelled_and_slowed(
    phone_take: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["take", str(phone_take), "--speeds", "70", "--out", str(tmp_path)]) == 0
    folder = tmp_path / "kitchen-take"
    assert {each.name for each in folder.iterdir()} == {
        "kitchen-take.mp3",
        "kitchen-take-slow-70.mp3",
        "manifest.json",
    }
    assert "kitchen-take-slow-70.mp3" in capsys.readouterr().out


def test_a_broken_file_in_a_batch_is_told_and_the_rest_goes_on(
    phone_take: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broken = tmp_path / "broken.m4a"
    broken.write_bytes(b"no sound at all")
    out = tmp_path / "out"
    arguments = ["take", str(broken), str(phone_take), "--tune", TUNES, "--which", "2"]
    assert main([*arguments, "--no-tracks", "--out", str(out)]) == 1
    printed = capsys.readouterr()
    assert str(broken) in printed.err
    assert (
        out / "two-loaves-and-a-lantern-kitchen-take" / "two-loaves-and-a-lantern-report.pdf"
    ).exists()
    assert len(list(out.iterdir())) == 1


def test_a_tune_written_down_opens_in_read_tab_and_pack(
    phone_take: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "written.abc"
    assert main(["transcribe", str(phone_take), "--title", "Heard Once", "--out", str(book)]) == 0
    capsys.readouterr()
    assert main(["read", str(book), "--json"]) == 0
    (tune,) = json.loads(capsys.readouterr().out)
    assert (tune["title"], tune["type"], tune["meter"]) == ("Heard Once", "jig", "6/8")
    assert (tune["key"], tune["warnings"]) == ("D major", [])
    (written,) = read_abc(book.read_text())
    assert isinstance(written, Tune)
    heard = [note.pitch.midi for note in unfold(written).sounding]
    played = [note.pitch.midi for note in unfold(example(JIG).plain).sounding]
    assert heard == played
    assert main(["tab", str(book)]) == 0
    assert main(["pack", str(book), "--out", str(tmp_path / "packs")]) == 0
    assert (tmp_path / "packs" / "heard-once" / "heard-once.pdf").exists()


def test_wishes_that_are_no_metre_or_key_are_refused_in_one_line(
    phone_take: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for option, text, said in (
        ("--meter", "fast", "--meter fast"),
        ("--meter", "1/64", "Metre 1/64"),
        ("--meter", "none", "--meter none"),
        ("--key", "Z", "--key Z"),
    ):
        assert main(["transcribe", str(phone_take), option, text]) == 1
        assert said in capsys.readouterr().err


def test_another_tune_than_the_one_named_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    scale = [Played(0.3 * k, 0.3 * k + 0.28, 60 + (7 * k) % 24) for k in range(1, 60)]
    wav = write_wav(tmp_path / "odd.wav", sounded(scale).sound, RATE)
    arguments = ["take", str(wav), "--tune", TUNES, "--which", "1", "--parts"]
    assert main([*arguments, "--out", str(tmp_path)]) == 0
    printed = capsys.readouterr()
    assert "hardly fits" in printed.err
    assert "does not fit" in printed.out


def test_where_no_tune_is_chosen_the_message_names_the_option_that_chooses(
    phone_take: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = ["take", str(phone_take), "--tune", TUNES, "--no-tracks", "--out", str(tmp_path)]
    main(arguments)
    printed = capsys.readouterr()
    assert "--which N chooses another." in printed.err and "--tune N" not in printed.err


def test_a_second_take_of_a_tune_leaves_the_first_where_it_is(
    phone_take: Path, tmp_path: Path
) -> None:
    again = tmp_path / "Second try.m4a"
    again.write_bytes(phone_take.read_bytes())
    for recording in (phone_take, again):
        arguments = ["take", str(recording), "--tune", TUNES, "--which", "2", "--no-tracks"]
        assert main([*arguments, "--out", str(tmp_path / "takes")]) == 0
    assert sorted(each.name for each in (tmp_path / "takes").iterdir()) == [
        "two-loaves-and-a-lantern-kitchen-take",
        "two-loaves-and-a-lantern-second-try",
    ]


def test_a_silent_recording_is_an_error_and_makes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wav = write_wav(tmp_path / "quiet.wav", np.zeros(3 * RATE, dtype=np.float32))
    for arguments in (["take", str(wav), "--out", str(tmp_path / "out")], ["transcribe", str(wav)]):
        assert main(arguments) == 1
        printed = capsys.readouterr()
        assert str(wav) in printed.err and "silent" in printed.err
        assert not printed.out
    assert not (tmp_path / "out").exists()


def test_the_temperament_is_that_of_the_harp_also_without_tracks(
    phone_take: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = ["take", str(phone_take), "--tune", TUNES, "--which", "2", "--no-tracks"]
    arguments += ["--out", str(tmp_path), "--json", "--temperament"]
    assert main([*arguments, "just"]) == 0
    assert json.loads(capsys.readouterr().out)["report"]["temperament"] == "just"
    assert main([*arguments, "jsut"]) == 1
    assert "just" in capsys.readouterr().err


def test_what_needs_a_tune_is_refused_without_one(
    phone_take: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for option in (["--parts"], ["--loops", "3-4"], ["--which", "2"]):
        assert main(["take", str(phone_take), *option, "--out", str(tmp_path / "out")]) == 1
        assert "--tune" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_whole_take_finds_its_tune(phone_take: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["find", "--take", str(phone_take), TUNES, "--json"]) == 0
    matches = json.loads(capsys.readouterr().out)["matches"]
    assert matches[0]["title"] == "Two Loaves and a Lantern"
    assert main(["find", "--take", str(phone_take), TUNES, "--from", "5", "--to", "3"]) == 1
    assert "--to" in capsys.readouterr().err
