"""What goes wrong in real life: one clear word each, the right exit status, nothing lost."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from reedwright.cli.main import main

TUNES = str(Path(__file__).parents[2] / "examples" / "tunes.abc")
VOICES = """\
X:1
T:Alone
M:4/4
L:1/4
K:G
GABc|

X:2
T:Together
M:4/4
L:1/4
K:G
V:1
GABc|
V:2
G,4|
"""


def run(command: str, given: str | None = None) -> subprocess.CompletedProcess[str]:
    """A shell command, with `reedwright` and `TUNES` filled in; `given` on its input."""
    line = command.replace("reedwright", f"'{sys.executable}' -m reedwright")
    return subprocess.run(
        line.replace("TUNES", f"'{TUNES}'"),
        shell=True, input=given, capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONUTF8": "1"},
    )  # fmt: skip


@pytest.mark.parametrize("tempo", ["nan", "inf", "-inf", "-1", "0", "1e308", "9", "fast"])
@pytest.mark.parametrize("command", ["tab", "harps", "pack"])
def test_a_tempo_that_nobody_plays_is_wrong_usage(
    command: str, tempo: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main([command, TUNES, f"--tempo={tempo}"])
    assert ended.value.code == 2
    assert f"'{tempo}' is no tempo; give a number from 10 to 1000" in capsys.readouterr().err


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
@pytest.mark.parametrize("command", ["read TUNES", "read TUNES --json", "tab TUNES", "harp C"])
def test_output_that_cannot_be_written_is_one_line(command: str) -> None:
    done = run(f"reedwright {command} > /dev/full")
    assert done.returncode == 1
    assert "the output cannot be written" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.skipif(os.name == "nt", reason="closes streams as a Unix shell does")
def test_closed_streams_are_no_traceback() -> None:
    done = run("reedwright read TUNES --short >&-")
    assert (done.returncode, done.stderr) == (0, "")
    done = run("reedwright read - <&-")
    assert done.returncode == 1
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("command", ["read -", "tab -", "harps - --tune 2", "read - --json"])
def test_standard_input_without_a_tune_is_told_of(command: str) -> None:
    done = run(f"reedwright {command}", given="not a tune\n")
    assert done.returncode == 1
    assert "standard input: there is no tune in it" in done.stderr
    if "--json" in command:
        assert json.loads(done.stdout) == []


@pytest.mark.parametrize("command", ["tab", "harps", "read"])
def test_a_tune_without_the_voice_asked_for_does_not_stop_the_others(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "book.abc"
    book.write_text(VOICES)
    every = [] if command == "read" else ["--tune", "all"]
    assert main([command, str(book), "--voice", "2", "--json", *every]) == 1
    printed = capsys.readouterr()
    assert [tune["title"] for tune in json.loads(printed.out)] == ["Together"]
    assert "Alone: there is no voice 2" in printed.err


@pytest.mark.parametrize("mistake", [["--player", "nobody"], ["--harp", "H"], ["--owned", "C:no"]])
def test_a_mistake_in_the_options_is_told_once_for_all_tunes(
    mistake: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["tab", TUNES, "--tune", "all", *mistake]) == 1
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.count("\n") == 1


def test_tunes_of_one_title_have_a_pack_each(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Titles are cut to make file names; so two long ones may come out alike."""
    title = "The Very Long Name of a Very Short Polka That Nobody Could Ever Remember"
    tune = f"T:{title}\nM:2/4\nL:1/8\nK:G\nG2 Bd|\n\n"
    book = tmp_path / "book.abc"
    book.write_text(f"X:1\n{tune}X:2\n{tune}X:2\n{tune}")
    out = tmp_path / "out"
    command = ["pack", str(book), "--tune", "all", "--harp", "G", "--out", str(out), "--json"]
    assert main([*command, "--speeds", "100,100,"]) == 0
    packs = json.loads(capsys.readouterr().out)
    assert len({pack["zip"] for pack in packs}) == 3
    assert len(list(out.glob("*.zip"))) == 3
    assert all(len(list(Path(pack["folder"]).glob("*.mp3"))) == 1 for pack in packs)


def test_a_pitch_that_the_harp_lacks_is_told_once_by_pack(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "book.abc"
    book.write_text("X:1\nT:Low\nM:4/4\nL:1/4\nK:C\nG,,CEG|G,,CEG|G,,4|\n")
    assert main(["pack", str(book), "--harp", "C", "--out", str(tmp_path / "out")]) == 0
    told = capsys.readouterr().err.splitlines()
    missing = [line for line in told if "Missing" in line]
    assert missing == ["reedwright: Low: Missing: G2, bar 1 beat 1, bar 2 beat 1, bar 3 beat 1."]


def test_old_windows_text_and_control_characters_are_read_as_meant(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "book.abc"
    book.write_bytes(b"X:1\nT:O\x92Hara\x92s \x93Caf\xe9\x94 \x07reel\nM:2/4\nL:1/8\nK:G\nG2 Bd|\n")
    assert main(["read", str(book), "--json"]) == 0
    [tune] = json.loads(capsys.readouterr().out)
    assert tune["title"].split() == ["O’Hara’s", "“Café”", "reel"]


def test_an_article_goes_with_the_name_as_it_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["tab", TUNES, "--tune", "5", "--owned", "A"]) == 0
    assert "it lies best on an A harp" in capsys.readouterr().err


def test_a_batch_names_the_tune_with_each_trouble_and_the_rights_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "book.abc"
    head = "M:2/4\nL:1/8\nK:C\n"
    book.write_text(
        f"X:1\nT:Fine\n{head}G2 Bd|\n\nX:2\nT:Deep\n{head}G,,2 Bd|\n\n"
        f"X:3\nT:Slow\nQ:1/4=1\n{head}G2 Bd|\n"
    )
    command = ["pack", str(book), "--tune", "all", "--harp", "C", "--out", str(tmp_path / "out")]
    assert main(command) == 1
    told = capsys.readouterr().err.splitlines()
    assert any(line.startswith("reedwright: Deep: Missing: G2") for line in told)
    assert any(line.startswith("reedwright: Slow: Tempo of ") for line in told)
    rights = [line for line in told if "Rights" in line]
    assert len(rights) == 1
    assert "2 tunes: Fine; Deep." in rights[0]
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [
        "deep", "deep.zip", "fine", "fine.zip",
    ]  # fmt: skip


def test_an_old_terminal_gets_tab_that_it_can_show_and_json_that_loses_nothing(
    tmp_path: Path,
) -> None:
    book = tmp_path / "book.abc"
    book.write_text("X:1\nT:Café 夜\nM:2/4\nL:1/8\nK:C\nC2 DE|\n", encoding="utf-8")
    old = {**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}

    def printed(*arguments: str, env: dict[str, str] | None = None) -> bytes:
        command = [sys.executable, "-m", "reedwright", *arguments]
        return subprocess.run(command, capture_output=True, check=True, env=env).stdout

    tab = ("tab", str(book), "--harp", "C")
    assert b"| 1+ 1- 2+ |]" in printed(*tab, env=old)
    assert b"| 1+ 1- 2+ |]" in printed(*tab, "--ascii")
    assert printed(*tab, "--ascii").isascii()
    assert json.loads(printed(*tab, "--json", env=old))["title"] == "Café 夜"
    assert json.loads(printed("read", str(book), "--json", env=old))[0]["title"] == "Café 夜"


def test_music_after_a_change_to_no_key_is_said_to_be_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "book.abc"
    book.write_text("X:1\nT:Change\nM:2/4\nL:1/8\nK:C\nC2DE|[K:none]G4|\n")
    assert main(["tab", str(book), "--harp", "C", "--spoken"]) == 0
    spoken = capsys.readouterr().out
    assert "From here no key is named." in spoken
    assert "to none" not in spoken


def test_an_air_without_bar_lines_gets_its_page(tmp_path: Path) -> None:
    """It is one bar, wider than the page: once, room for it was looked for without end."""
    book = tmp_path / "air.abc"
    book.write_text("X:1\nT:Air\nM:none\nL:1/8\nK:C\n" + "c2de f2ed g4 agfe\n" * 12 + "|]\n")
    made = run(f"timeout 60 reedwright pack '{book}' --harp C --out '{tmp_path / 'out'}'")
    assert made.returncode == 0, made.stderr
    assert (tmp_path / "out" / "air" / "air.pdf").read_bytes().startswith(b"%PDF")
