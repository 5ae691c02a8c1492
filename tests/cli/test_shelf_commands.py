"""The shelf as a user meets it: taken in, found, changed, undone, used, never lost."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from reedwright.cli.main import main

EXAMPLES = Path(__file__).parents[2] / "examples"
TUNES = str(EXAMPLES / "tunes.abc")
LATCH = "The Reedmaker's Latch"


@pytest.fixture(autouse=True)
def places(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("REEDWRIGHT_SHELF", str(tmp_path / "shelf"))
    monkeypatch.setenv("REEDWRIGHT_BENCH", str(tmp_path / "bench"))


def run(*arguments: str) -> None:
    assert main(list(arguments)) == 0


def told(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    capsys.readouterr()
    run(*arguments)
    return capsys.readouterr().out


def asked(capsys: pytest.CaptureFixture[str], *arguments: str) -> object:
    return json.loads(told(capsys, *arguments, "--json"))


def number_of(capsys: pytest.CaptureFixture[str], words: str) -> str:
    found = asked(capsys, "shelf", "find", words)
    assert isinstance(found, dict)
    return str(found["tunes"][0]["number"])


def test_tunes_are_taken_in_once_and_found_again(capsys: pytest.CaptureFixture[str]) -> None:
    assert "7 tunes were taken in" in told(capsys, "shelf", "import", TUNES)
    run("shelf", "import", TUNES)
    assert "7  tunes" in told(capsys, "shelf", "contents")
    for words in ("reedmakers latch", "redmaker", "LATCH"):
        assert LATCH in told(capsys, "shelf", "find", words), words
    assert LATCH in told(capsys, "shelf", "find", "--notes", "G2BG DGBd|g2fg")
    reels = told(capsys, "shelf", "find", "--type", "reel", "--key", "G")
    assert LATCH in reels and "Two Loaves" not in reels


def test_a_choice_for_a_tune_of_the_shelf_is_kept_honoured_and_undone(
    capsys: pytest.CaptureFixture[str],
) -> None:
    run("shelf", "import", TUNES)
    number = number_of(capsys, "latch")
    place = f"shelf:{number}"
    run("choose", place, "--harp", "G")
    assert "G harp" in told(capsys, "tab", place)
    with_cuts = told(capsys, "tab", place)
    run("choose", place, "--amount", "none")
    assert told(capsys, "tab", place) != with_cuts
    arrangement = asked(capsys, "shelf", "contents", "--kind", "arrangement")
    assert isinstance(arrangement, list) and len(arrangement) == 1
    item = str(arrangement[0]["number"])
    states = asked(capsys, "shelf", "states", item)
    assert isinstance(states, list) and len(states) == 2
    after = told(capsys, "choose", place)
    run("shelf", "undo", item)
    assert told(capsys, "choose", place) != after
    assert told(capsys, "tab", place) == with_cuts
    run("shelf", "redo", item)
    assert told(capsys, "choose", place) == after


def test_a_tune_is_changed_undone_and_gone_back_to(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    run("shelf", "import", TUNES)
    number = number_of(capsys, "latch")
    file = tmp_path / "better.abc"
    file.write_text("X:1\nT:A Better Latch\nR:reel\nM:4/4\nK:D\nDFAd fdAF|D8|]\n", "utf-8")
    run("shelf", "change", number, str(file), "--said", "the ending put right")
    assert "A Better Latch" in told(capsys, "shelf", "find", "better latch")
    assert LATCH in told(capsys, "shelf", "undo", number)
    assert "A Better Latch" not in told(capsys, "shelf", "find", "reedmaker latch")
    assert "the ending put right" in told(capsys, "shelf", "states", number)
    run("shelf", "states", number, "--go-to", "2")
    assert "A Better Latch" in told(capsys, "shelf", "show", number)
    run("shelf", "remove", number)
    assert "A Better Latch" not in told(capsys, "shelf", "find", "better latch")
    run("shelf", "put-back", number)
    assert "A Better Latch" in told(capsys, "shelf", "find", "better latch")


def test_lists_and_lessons_are_places_that_commands_take(
    capsys: pytest.CaptureFixture[str],
) -> None:
    run("shelf", "import", TUNES)
    run("shelf", "list", "Tuesday group", "latch", "two loaves")
    run("shelf", "list", "Tuesday group", "ferry", "--add")
    titles = [
        line.split(": ")[0].split(None, 1)[1]
        for line in told(capsys, "read", "shelf:Tuesday group", "--short").splitlines()
    ]
    assert titles == [LATCH, "Two Loaves and a Lantern", "The Ferry at Nether Coll"]
    run("shelf", "list", "Tuesday group", "latch", "--drop")
    assert LATCH not in told(capsys, "shelf", "list", "Tuesday group")
    run("shelf", "lesson", "Mira", "latch", "--words", "slow", "--on", "2026-03-01")
    assert "2026-03-01  Mira" in told(capsys, "shelf", "lesson")
    assert LATCH in told(capsys, "shelf", "find", "--taught-to", "Mira")
    assert LATCH not in told(capsys, "shelf", "find", "--not-taught")
    run("shelf", "find", "--type", "reel", "--list-as", "reels")
    assert LATCH in told(capsys, "shelf", "list", "reels")


def test_owned_harps_and_their_bench_history_are_kept(
    capsys: pytest.CaptureFixture[str],
) -> None:
    run("shelf", "import", TUNES)
    run("bench", "history", "red G", "--start", "G")
    run("bench", "history", "red G", "--note", "draw 5 is slow")
    assert "red G: G harp, 1 entry" in told(capsys, "shelf", "harps")
    found = told(capsys, "shelf", "find", "--owned")
    assert "Marl Street Polka" in found
    ranked = told(capsys, "harps", "shelf:marl street", "--owned", "shelf")
    assert "G harp" in ranked and "D harp" not in ranked
    assert "G harp" in told(capsys, "sets", "harps", "shelf:marl street", "--have", "shelf")


def test_files_go_in_and_come_out_to_the_byte(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    run("shelf", "import", TUNES)
    take = tmp_path / "latch.m4a"
    take.write_bytes(bytes(range(256)) * 9)
    assert "Kept as take" in told(capsys, "shelf", "keep", str(take), "latch")
    kept = asked(capsys, "shelf", "contents", "--kind", "take")
    assert isinstance(kept, list)
    run("shelf", "get", str(kept[0]["number"]), "--out", str(tmp_path / "again.m4a"))
    assert (tmp_path / "again.m4a").read_bytes() == take.read_bytes()
    assert "latch" in told(capsys, "shelf", "show", "latch")


def test_what_is_exported_or_backed_up_comes_back_whole(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    run("shelf", "import", TUNES)
    run("shelf", "list", "Tuesday", "latch", "two loaves")
    run("choose", "shelf:latch", "--harp", "G")
    run("shelf", "remove", "ferry")
    run("shelf", "check")
    run("shelf", "export", str(tmp_path / "out"))
    run("shelf", "backup", str(tmp_path / "backup"))
    run("shelf", "bring-back", str(tmp_path / "out"), "--shelf", str(tmp_path / "second"))
    run("shelf", "restore", str(tmp_path / "backup"), "--shelf", str(tmp_path / "third"))
    here = asked(capsys, "shelf", "contents")
    assert isinstance(here, dict) and here["counts"]
    for other in ("second", "third"):
        place = ["--shelf", str(tmp_path / other)]
        run("shelf", "check", *place)
        there = asked(capsys, "shelf", "contents", *place)
        assert isinstance(there, dict) and there["counts"] == here["counts"]
        assert LATCH in told(capsys, "shelf", "list", "Tuesday", *place)
        assert "Ferry" in told(capsys, "shelf", "contents", "--removed", *place)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["shelf", "show", "99"], "99"),
        (["shelf", "show", "no such tune"], "no tune called"),
        (["shelf", "keep", "none.toml"], "no such file"),
        (["shelf", "settings", "--yes", "3"], "Say both tunes"),
        (["shelf", "find", "--harp", "H"], "H"),
        (["shelf", "find", "--grade", "hard"], "hard"),
        (["shelf", "contents", "--kind", "tunes"], "did you mean 'tune'"),
        (["tab", "shelf:99"], "99"),
        (["tab", "shelf:nothing of the kind"], "no tune called"),
        (["shelf", "harps", "red G"], "--harp"),
    ],
)
def test_what_cannot_be_done_is_told_in_a_sentence(
    arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    run("shelf", "import", TUNES)
    capsys.readouterr()
    assert main(arguments) == 1
    err = capsys.readouterr().err
    assert said in err and "Traceback" not in err


def test_settings_are_offered_decided_and_taken_back(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """The demo reel a step lower, in F: the same letters moved down the staff."""
    run("shelf", "import", TUNES)
    text = (EXAMPLES / "tunes.abc").read_text("utf-8")
    reel = "X:1" + text.split("X:1", 1)[1].split("\n\n", 1)[0]
    music = reel.split("K:G\n", 1)[1]
    other = tmp_path / "other.abc"
    lower = str.maketrans("cdefgabCDEFGAB", "Bcdefga_CDEFGA")
    moved = music.translate(lower).replace("_", "B,")
    other.write_text("X:1\nT:The Latch in F\nR:reel\nM:C|\nL:1/8\nK:F\n" + moved + "\n", "utf-8")
    assert "setting" in told(capsys, "shelf", "import", str(other))
    latch, lower_latch = number_of(capsys, "reedmaker latch"), number_of(capsys, "latch in f")
    assert "The Latch in F" in told(capsys, "shelf", "settings", latch)
    run("shelf", "settings", latch, "--yes", lower_latch)
    assert "The Latch in F" in told(capsys, "shelf", "show", latch)
    run("shelf", "settings", "--take-back")
    assert "The Latch in F" not in told(capsys, "shelf", "show", latch)
    run("shelf", "settings", latch, "--no", lower_latch)
    assert "The Latch in F" not in told(capsys, "shelf", "settings", latch)


def test_choices_stay_with_a_tune_whose_title_changes(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    run("shelf", "import", TUNES)
    number = number_of(capsys, "latch")
    run("choose", f"shelf:{number}", "--harp", "A")
    reel = (EXAMPLES / "tunes.abc").read_text("utf-8").split("X:1", 1)[1].split("\n\n", 1)[0]
    file = tmp_path / "renamed.abc"
    file.write_text("X:77" + reel.replace("The Reedmaker's Latch", "The Bolt"), "utf-8")
    run("shelf", "change", number, str(file))
    assert "A harp" in told(capsys, "tab", f"shelf:{number}")
    run("choose", f"shelf:{number}", "--amount", "none")
    listed = told(capsys, "choose", f"shelf:{number}")
    assert "The Bolt" in listed and "A" in listed.split("harp", 1)[1][:12]
    kept = asked(capsys, "shelf", "contents", "--kind", "arrangement")
    assert isinstance(kept, list) and kept[0]["state"]["number"] == 2
    assert 'harp = "A' in kept[0]["state"]["text"]


def test_a_broken_arrangement_file_does_not_hide_what_came_in(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "mine.abc").write_text(Path(TUNES).read_text("utf-8"), "utf-8")
    (tmp_path / "mine.arrangement.toml").write_text("[[tune]\n", "utf-8")
    assert main(["shelf", "import", str(tmp_path / "mine.abc")]) == 1
    out, err = capsys.readouterr()
    assert "7 tunes were taken in" in out and "mine.arrangement.toml" in err


def test_to_look_at_a_shelf_makes_none(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    for command in (["check"], ["find", "latch"], ["undo", "1"], ["list"], ["contents"]):
        assert main(["shelf", *command, "--shelf", str(tmp_path / "nonesuch")]) == 1
        assert "there is no shelf here" in capsys.readouterr().err
    assert main(["tab", "shelf:1"]) == 1
    assert not (tmp_path / "nonesuch").exists() and not (tmp_path / "shelf").exists()


def test_tunes_that_were_taken_off_are_told_where_a_list_has_them(
    capsys: pytest.CaptureFixture[str],
) -> None:
    run("shelf", "import", TUNES)
    run("shelf", "list", "Tuesday", "latch", "two loaves")
    number = number_of(capsys, "two loaves")
    run("shelf", "remove", number)
    for command in (["shelf", "list", "Tuesday"], ["read", "shelf:Tuesday", "--short"]):
        capsys.readouterr()
        run(*command)
        out, err = capsys.readouterr()
        assert "Two Loaves" in err and "put-back" in err
        assert LATCH in out and "Two Loaves" not in out
    run("read", f"shelf:{number}", "--short")
    assert "taken off the shelf" in capsys.readouterr().err
