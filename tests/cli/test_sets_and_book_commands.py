"""`reedwright sets` and `reedwright book` as a user meets them."""

from __future__ import annotations

import json
from pathlib import Path

import pypdf
import pytest

from reedwright.cli.main import main

EXAMPLES = Path(__file__).parents[2] / "examples"
TUNES = str(EXAMPLES / "tunes.abc")


@pytest.fixture(autouse=True)
def places(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("REEDWRIGHT_SHELF", str(tmp_path / "shelf"))
    monkeypatch.setenv("REEDWRIGHT_BENCH", str(tmp_path / "bench"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


DANCES = """X:1
T:The Mill Door
R:reel
M:4/4
L:1/8
K:G
|:GABd g2fg|edBd e2dB|GABd gfed|BAFA G4:|

X:2
T:The Wet Step
R:reel
M:4/4
L:1/8
K:D
|:dfaf dfaf|gfed B2AF|dfaf gfed|edce d4:|

X:3
T:The Long Sluice
R:jig
M:6/8
L:1/8
K:G
|:GBd gdB|c2e dBG|GBd gfe|dBA G3:|

X:4
T:The Lock-keeper
R:jig
M:6/8
L:1/8
K:D
|:fed faf|gfe d2B|fed faf|gec d3:|
"""


@pytest.fixture
def dances(tmp_path: Path) -> str:
    path = tmp_path / "dances.abc"
    path.write_text(DANCES, "utf-8")
    return str(path)


def run(*arguments: str) -> None:
    assert main(list(arguments)) == 0


def told(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    capsys.readouterr()
    run(*arguments)
    return capsys.readouterr().out


def text_of(pdf: Path) -> str:
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(pdf).pages)


def test_fewest_harps_are_told_with_each_tune_on_its_harp(
    capsys: pytest.CaptureFixture[str],
) -> None:
    text = told(capsys, "sets", "harps", TUNES, "--plain")
    assert text.startswith("2 harps for 7 tunes")
    report = json.loads(told(capsys, "sets", "harps", TUNES, "--plain", "--json"))
    assert report["frontier"]


def test_harps_that_one_has_are_taken_before_others(capsys: pytest.CaptureFixture[str]) -> None:
    """The demo tunes can be played on D and G alone, with bends (`harps --owned` agrees)."""
    text = told(capsys, "sets", "harps", TUNES, "--have", "D, G")
    heads = [line for line in text.split("\n\n") if "harp (" in line or "harp, " in line[:9]]
    assert any(head.startswith(("D harp (", "G harp (")) for head in heads), text


def test_an_evening_is_planned_kept_edited_and_printed(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, dances: str
) -> None:
    run("shelf", "import", dances)
    plan, sheet = tmp_path / "evening.toml", tmp_path / "evening.pdf"
    run(
        *("sets", "plan", "shelf:", "--sets", "2", "--title", "At the ferry", "--keep-as", "ferry"),
        *("--out", str(plan), "--sheet", str(sheet)),
    )
    assert "At the ferry" in text_of(sheet)
    again = tmp_path / "again.pdf"
    run("sets", "sheet", "shelf:ferry", "--out", str(again))
    assert again.read_bytes() == sheet.read_bytes()
    plan.write_text(plan.read_text("utf-8").replace("At the ferry", "At the mill"), "utf-8")
    run("sets", "sheet", str(plan), "--paper", "a5")
    assert "At the mill" in text_of(sheet)
    listed = told(capsys, "shelf", "list", "ferry")
    titles = {line.split(None, 2)[2] for line in listed.splitlines()[1:]}
    assert len(titles) == 4 and all(title in text_of(again) for title in titles)


def test_valved_harps_count_that_one_has(capsys: pytest.CaptureFixture[str], dances: str) -> None:
    text = told(capsys, "sets", "harps", dances, "--have", "G:richter:half", "--must", "G::half")
    assert "half-valved" in text


def test_a_plan_is_not_overruled_unsaid(
    capsys: pytest.CaptureFixture[str], dances: str, tmp_path: Path
) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(f'title = "Four"\nsources = ["{dances}"]\n', "utf-8")
    assert main(["book", str(plan), "--maker", "Ann Other"]) == 1
    assert "--maker" in capsys.readouterr().err


def test_an_evening_of_files_is_printed_with_its_files(tmp_path: Path, dances: str) -> None:
    plan = tmp_path / "evening.toml"
    run("sets", "plan", dances, "--sets", "1", "--out", str(plan))
    run("sets", "sheet", str(plan), dances)
    assert (tmp_path / "evening.pdf").is_file()


def test_a_book_of_the_shelf_and_of_its_own_plan_is_the_same(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    run("shelf", "import", TUNES)
    run("shelf", "list", "Tuesday", "latch", "ferry")
    first, plan, second = (tmp_path / name for name in ("a.pdf", "plan.toml", "b.pdf"))
    words = ("--title", "Tunes for Tuesday", "--maker", "Ann Other", "--paper", "a5")
    text = told(capsys, "book", "shelf:Tuesday", *words, "--out", str(first))
    assert "2 tunes" in text
    run("book", "shelf:Tuesday", *words, "--start-plan", str(plan))
    run("book", str(plan), "--out", str(second))
    assert second.read_bytes() == first.read_bytes()
    assert "Tunes for Tuesday" in text_of(first)


def test_what_a_teacher_decided_beside_the_tunes_holds_in_a_book(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    tune = tmp_path / "short.abc"
    tune.write_text("X:1\nT:Short\nR:reel\nM:4/4\nK:G\nGABc dBGB|G8|]\n", "utf-8")
    run("choose", str(tune), "--harp", "C")
    out = ("--out", str(tmp_path / "b.pdf"), "--json")
    report = json.loads(told(capsys, "book", str(tune), *out))
    assert report["chapters"][0]["tunes"][0]["harp"] == "C harp"


def test_a_book_comes_as_web_pages_too(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    tune = tmp_path / "short.abc"
    tune.write_text("X:1\nT:Short\nR:reel\nM:4/4\nK:G\nGABc dBGB|G8|]\n", "utf-8")
    report = json.loads(
        told(
            capsys,
            *("book", str(tune), "--out", str(tmp_path / "b.pdf")),
            *("--site", str(tmp_path / "web"), "--json"),
        )
    )
    assert report["site"]["tunes"] == 1
    assert (tmp_path / "web" / "short.mp3").stat().st_size > 10_000
    assert "Short" in (tmp_path / "web" / "index.html").read_text("utf-8")


def test_tunes_that_cannot_be_read_are_told_and_the_book_goes_on(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(
        f'title = "Two"\nsources = ["{TUNES}"]\n'
        '[[tune]]\ntune = "The Reedmaker\'s Latch"\n[[tune]]\ntune = "No Such Tune"\n',
        "utf-8",
    )
    assert main(["book", str(plan), "--out", str(tmp_path / "b.pdf")]) == 1
    assert "No Such Tune" in capsys.readouterr().err
    assert "Latch" in text_of(tmp_path / "b.pdf")


def test_an_evening_is_printed_though_a_tune_was_taken_off_since(
    tmp_path: Path, dances: str
) -> None:
    run("shelf", "import", dances)
    run("sets", "plan", "shelf:", "--keep-as", "ferry")
    run("shelf", "remove", "wet step")
    run("sets", "sheet", "shelf:ferry", "--out", str(tmp_path / "e.pdf"))
    assert "The Wet Step" in text_of(tmp_path / "e.pdf")


def test_a_search_that_cannot_be_understood_makes_no_book(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, dances: str
) -> None:
    run("shelf", "import", dances)
    plan = tmp_path / "plan.toml"
    plan.write_text(f'title = "x"\nsources = ["{dances}"]\nsearch = {{ typ = "reel" }}\n', "utf-8")
    assert main(["book", str(plan), "--out", str(tmp_path / "b.pdf")]) == 1
    assert "typ" in capsys.readouterr().err and not (tmp_path / "b.pdf").exists()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["sets", "harps", "none.abc"], "none.abc"),
        (["sets", "harps", TUNES, "--must", "G", "--never", "G"], "never"),
        (["sets", "plan", TUNES, "--keep-as", "x"], "shelf:LIST"),
        (["tab", "shelf:²"], "no tune called"),
        (["sets", "sheet", "none.toml"], "none.toml"),
        (["book", "none.toml"], "none.toml"),
        (["book", TUNES, "--bleed", "40"], "Bleed"),
        (["book", "shelf:nothing"], "nothing"),
        (["book", TUNES, "--site", "web", "--downloads", "wav"], "wav"),
        (["book", TUNES, "--site", "web", "--shop-address", "example"], "https://"),
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


def test_an_address_that_is_none_of_the_web_is_refused(
    capsys: pytest.CaptureFixture[str], dances: str
) -> None:
    assert main(["book", dances, "--address", "my-site"]) == 1
    assert "https://" in capsys.readouterr().err
