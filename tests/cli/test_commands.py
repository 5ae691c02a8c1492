"""The command line as a user meets it: what is printed, and the exit status."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from reedwright.cli import choosing
from reedwright.cli.main import main
from reedwright.tab.notation import TabStyle

TUNES = str(Path(__file__).parents[2] / "examples" / "tunes.abc")

ONE_BAD_AMONG_THREE = """\
X:1
T:Good
K:C
CDEF GABc|

X:2
T:Bad
K:Zmaj
CDEF|

X:3
T:Good again
K:G
GABc d4|
"""


def run_json(capsys: pytest.CaptureFixture[str], *arguments: str) -> object:
    assert main([*arguments, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_read_lists_every_tune_with_what_the_issue_promises(
    capsys: pytest.CaptureFixture[str],
) -> None:
    tunes = run_json(capsys, "read", TUNES)
    assert isinstance(tunes, list)
    assert len(tunes) == 7
    reel = tunes[0]
    assert reel["title"] == "The Reedmaker's Latch"
    assert (reel["type"], reel["key"], reel["form"]) == ("reel", "G major", "AABB")
    assert reel["warnings"] == []
    # The pick-up D, then the roll's G: D4 for a crotchet, G4 for a crotchet.
    assert reel["performed"][:2] == [[62, 0, 1], [67, 1, 1]]


def test_read_goes_on_after_a_tune_that_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "book.abc"
    book.write_text(ONE_BAD_AMONG_THREE)
    assert main(["read", str(book), "--json"]) == 1
    printed = capsys.readouterr()
    tunes = json.loads(printed.out)
    assert [tune["title"] for tune in tunes] == ["Good", "Bad", "Good again"]
    assert tunes[1]["error"]["line"] == 8
    assert "^" in printed.err, "a caret shows the spot"


def test_read_of_several_files_goes_on_after_one_that_is_not_there(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["read", "nowhere.abc", TUNES, "--short"]) == 1
    printed = capsys.readouterr()
    assert "nowhere.abc" in printed.err
    assert "The Paper Sail" in printed.out


def test_tab_gives_every_written_note_a_hole(capsys: pytest.CaptureFixture[str]) -> None:
    tab = run_json(capsys, "tab", TUNES, "--harp", "G", "--tuning", "richter-raised-3-blow")
    assert isinstance(tab, dict)
    first = tab["notes"][0]
    wanted = {"id", "bar", "beat", "midi", "hole", "breath", "technique", "bend"}
    assert wanted <= set(first)
    # D4 is 2 draw on a G harp; with 3 blow raised to E it is nowhere else.
    assert (first["midi"], first["hole"], first["breath"]) == (62, 2, "draw")
    assert tab["effort"] > 0
    assert all(note["hole"] for note in tab["notes"])
    assert all(note["technique"] == "natural" for note in tab["notes"])


def test_the_reel_lies_best_in_first_position_on_a_g_harp_with_raised_3_blow(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Common practice, no source."""
    ranking = run_json(capsys, "harps", TUNES, "--tune", "1")
    assert isinstance(ranking, list)
    best = ranking[0]
    assert (best["harp"]["key"], best["harp"]["tuning"]) == ("G", "richter-raised-3-blow")
    assert best["position"] == 1
    assert best["bends"] == best["missing"] == 0


def test_a_tune_can_be_chosen_by_number_or_title(capsys: pytest.CaptureFixture[str]) -> None:
    by_number = run_json(capsys, "tab", TUNES, "--tune", "2", "--harp", "D")
    by_title = run_json(capsys, "tab", TUNES, "--tune", "two loaves", "--harp", "D")
    assert by_number == by_title
    assert main(["tab", TUNES, "--tune", "no such tune"]) == 1
    assert "no tune with number or title" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["tab", TUNES, "--harp", "H"], "H"),
        (["tab", TUNES, "--harp", "C", "--tuning", "no-such-tuning"], "no-such-tuning"),
        (["tab", TUNES, "--player", "nobody"], "nobody"),
        (["tab", TUNES, "--voice", "3", "--harp", "G"], "voice 3"),
        (["tab", TUNES, "--tuning", "richter"], "--harp"),
        (["pack", TUNES, "--speeds", "5"], "5"),
        (["harp", "C", "--draw", "chart.gif"], ".svg or .png"),
    ],
)
def test_a_request_that_cannot_be_met_is_one_clear_error(
    arguments: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == 1
    error = capsys.readouterr().err
    assert told in error
    assert "Traceback" not in error


@pytest.mark.parametrize("arguments", [[], ["nonsense"], ["tab"], ["tab", TUNES, "--voice", "0"]])
def test_wrong_usage_ends_with_status_2(arguments: list[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 2


def test_styles_to_choose_from_are_those_that_there_are() -> None:
    assert tuple(TabStyle) == choosing.STYLES


def test_a_tune_moved_to_another_key_says_so_also_where_no_harp_is_named(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["tab", TUNES, "--tune", "1", "--semitones", "2"]) == 0
    assert "moved 2 semitones up" in capsys.readouterr().out


def test_help_loads_nothing_heavy() -> None:
    """`--help` stays instant because numpy, Verovio and Typst are loaded only where used."""
    code = (
        "import sys; from reedwright.cli.main import parser; parser().format_help();"
        "print([m for m in ('numpy', 'scipy', 'verovio', 'typst', 'lameenc', 'partitura', 'mido')"
        " if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_output_to_a_reader_that_goes_away_is_no_error() -> None:
    command = f"'{sys.executable}' -m reedwright read '{TUNES}' --json | head -c 10"
    done = subprocess.run(command, shell=True, capture_output=True, text=True, check=False)
    assert "Traceback" not in done.stderr
    assert done.stdout.startswith("[")


def test_a_tune_on_standard_input_is_read() -> None:
    text = Path(TUNES).read_bytes()
    done = subprocess.run(
        [sys.executable, "-m", "reedwright", "read", "-", "--short"],
        input=text, capture_output=True, check=True, env={**os.environ, "PYTHONUTF8": "1"},
    )  # fmt: skip
    assert "Lantern on the Causeway" in done.stdout.decode()


def test_the_chart_of_a_harp_is_drawn(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name, signature in (("chart.svg", b"<"), ("chart.png", b"\x89PNG")):
        assert main(["harp", "C", "richter", "--draw", str(tmp_path / name)]) == 0
        assert (tmp_path / name).read_bytes().startswith(signature)
    assert main(["harp", "C", "richter"]) == 0
