"""What is chosen once holds in everything that is made: tab, ranking, grade, page, sound, files."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import mido
import pytest
from music21 import converter
from pypdf import PdfReader

from reedwright.cli.main import main

BOOK = Path(__file__).parents[2] / "examples" / "tunes.abc"
REEL = "the-reedmakers-latch"


@pytest.fixture
def tunes(tmp_path: Path) -> Path:
    return Path(shutil.copy(BOOK, tmp_path / "tunes.abc"))


def printed(capsys: pytest.CaptureFixture[str], *command: str) -> dict:
    assert main([*command, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_a_pack_holds_the_teachers_choices_in_every_file(
    tunes: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """On a C harp the demo reel's first note, D4, is 1 draw or a bend of 2 draw."""
    choose = ["choose", str(tunes), "--tune", "1"]
    assert main([*choose, "--harp", "C"]) == 0
    assert main([*choose, "--at", "1:1", "--ornament", "none"]) == 0  # a roll is written there
    assert main([*choose, "--at", "2:1", "--ornament", "cut"]) == 0
    assert main([*choose, "--at", "4:2", "--breath", "yes"]) == 0
    capsys.readouterr()

    tab = printed(capsys, "tab", str(tunes), "--tune", "1")
    assert tab["harp"]["name"] == "C harp"
    by_bar = {(o["bar"], o["kind"]): o for o in tab["ornaments"]}
    assert (1, "short roll") not in by_bar
    assert by_bar[2, "cut"]["origin"] == "teacher"
    assert (4, "teacher") in [(b["bar"], b["origin"]) for b in tab["breaths"]]

    out = tmp_path / "packs"
    loops = ["--loops", "--breath-plot", "--speeds", "70"]
    assert main(["pack", str(tunes), "--tune", "1", "--out", str(out), *loops]) == 0
    folder = out / REEL
    score = converter.parse(folder / f"{REEL}.musicxml")
    measures = list(score.parts[0].getElementsByClass("Measure"))
    first = next(m for m in measures if m.number == 1)
    second = next(m for m in measures if m.number == 2)
    assert not [n for n in first.recurse().notes if n.duration.isGrace]
    assert [n for n in second.recurse().notes if n.duration.isGrace]
    assert "breath-mark" in (folder / f"{REEL}.musicxml").read_text()
    assert "!breath!" in (folder / f"{REEL}.abc").read_text()
    words = (folder / f"{REEL}.txt").read_text()
    assert "Bar 2. " in words and "then a breath" in words
    page = "".join(p.extract_text() for p in PdfReader(folder / f"{REEL}.pdf").pages)
    assert "C harp" in page and "At full speed" in page
    cuts = mido.MidiFile(folder / f"{REEL}-with-cuts.mid")
    plain = mido.MidiFile(folder / f"{REEL}.mid")
    assert sum(m.type == "note_on" for m in cuts) > sum(m.type == "note_on" for m in plain)
    made = json.loads((folder / "manifest.json").read_text())
    assert made["settings"]["loops"] is True
    assert any("-loop-" in each["name"] for each in made["files"])


def test_a_pin_is_in_the_tab_and_its_price_is_explained(
    tunes: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = printed(capsys, "tab", str(tunes), "--tune", "1", "--harp", "C")
    note = next(n for n in before["notes"] if n["name"] == "G4" and n["hole"] == 2)
    beat = f"{note['bar']}:{note['beat']:g}"
    choose = ["choose", str(tunes), "--tune", "1"]
    assert main([*choose, "--harp", "C", "--at", beat, "--play", "3 blow"]) == 0
    capsys.readouterr()
    after = printed(capsys, "tab", str(tunes), "--tune", "1")
    pinned = next(n for n in after["notes"] if n["id"] == note["id"])
    assert (pinned["hole"], pinned["breath"]) == (3, "blow")
    assert after["effort"] > before["effort"]
    why = printed(capsys, "tab", str(tunes), "--tune", "1", "--why", str(note["bar"]))
    mine = next(n for n in why["notes"] if n["id"] == note["id"])
    assert mine["pinned"]
    instead = next(i for i in mine["instead"] if i["way"] == "2 draw")
    assert instead["more"] == pytest.approx(before["effort"] - after["effort"])
    # Without the file it is as before.
    without = printed(capsys, "tab", str(tunes), "--tune", "1", "--harp", "C", "--no-choices")
    assert without["effort"] == before["effort"]


def test_weights_in_the_file_bear_on_ranking_and_grade(
    tunes: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    harps = ["harps", str(tunes), "--tune", "1"]
    grade = ["grade", str(tunes), "--tune", "1", "--harp", "G"]
    easier = json.loads(_out(capsys, harps))[0]["effort"], printed(capsys, *grade)["work"]
    assert main(["choose", str(tunes), "--tune", "1", "--weight", "breath_change=5"]) == 0
    capsys.readouterr()
    harder = json.loads(_out(capsys, harps))[0]["effort"], printed(capsys, *grade)["work"]
    assert harder[0] > easier[0] and harder[1] > easier[1]


def _out(capsys: pytest.CaptureFixture[str], command: list[str]) -> str:
    assert main([*command, "--json"]) == 0
    return capsys.readouterr().out


def test_another_octave_that_is_much_easier_on_the_named_harp_is_told(
    tunes: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["tab", str(tunes), "--tune", "2", "--harp", "D"]) == 0
    told = capsys.readouterr().err
    assert "+1 octave it would be easier" in told and "--octave 1" in told
    assert main(["tab", str(tunes), "--tune", "2", "--harp", "D", "--octave", "0"]) == 0
    assert "octave" not in capsys.readouterr().err


def test_balance_trades_effort_for_an_even_breath(
    tunes: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """On a G harp the demo jig fills the lungs; docs/breath.md."""
    tab = ["tab", str(tunes), "--tune", "2", "--harp", "G"]
    plain, even = printed(capsys, *tab), printed(capsys, *tab, "--balance", "0.3")
    assert even["effort"] > plain["effort"]
    full = printed(capsys, *tab, "--breath")["speeds"][0]["without_breaths"]["highest"]
    less = printed(capsys, *tab, "--breath", "--balance", "0.3")["speeds"][0]["without_breaths"]
    assert less["highest"] < full
