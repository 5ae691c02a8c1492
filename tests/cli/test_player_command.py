"""`reedwright player` and the harps that a player owns, as a user meets them."""

from __future__ import annotations

import json
import re
import shlex
from dataclasses import fields
from pathlib import Path

import pytest

from reedwright.cli.main import main
from reedwright.player.loading import KEYS, load_profile
from reedwright.player.lungs import Lungs
from reedwright.player.profile import Weights

TUNES = str(Path(__file__).parents[2] / "examples" / "tunes.abc")
PAGE = Path(__file__).parents[2] / "docs" / "players.md"
Capture = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    mine = tmp_path / "profiles"
    monkeypatch.setenv("REEDWRIGHT_PROFILES", str(mine))
    monkeypatch.setattr("platformdirs.user_config_dir", lambda name: str(tmp_path / "none"))
    monkeypatch.chdir(tmp_path)
    return mine


def run(capsys: Capture, *arguments: str) -> str:
    capsys.readouterr()
    assert main(list(arguments)) == 0
    return capsys.readouterr().out


def refused(capsys: Capture, *arguments: str) -> str:
    """The one line that is told instead."""
    capsys.readouterr()
    assert main(list(arguments)) == 1
    printed = capsys.readouterr()
    assert printed.out == "" and printed.err.count("\n") == 1
    assert printed.err.startswith("reedwright: ") and "Traceback" not in printed.err
    return printed.err


def test_a_fresh_start_lists_the_three_that_come_with_the_project(capsys: Capture) -> None:
    text = run(capsys, "player")
    assert "first-year      plain notes only" in text
    assert text.count("(comes with Reedwright") == 3
    listed = json.loads(run(capsys, "player", "--json"))
    assert [each["name"] for each in listed] == ["first-year", "player", "all-techniques"]
    assert set(listed[0]) == {
        "name", "title", "description", "techniques", "harps", "shipped", "file", "base",
        "class_of",
    }  # fmt: skip
    assert (listed[2]["base"], listed[2]["shipped"]) == ("player", True)


def test_from_nothing_to_a_ranking_of_ones_own_harps(capsys: Capture, folder: Path) -> None:
    text = run(
        capsys, "player", "new", "anna", "--from", "first-year", "--title", "Anna, second year",
        "--techniques", "None", "--harps", "C, G, low D", "--set", "leap_hole=0.6",
    )  # fmt: skip
    assert f"Profile made: {folder / 'anna.toml'}" in text
    assert "anna  Anna, second year: plain notes only; owns C, G, low D" in text

    capsys.readouterr()
    assert main(["harps", TUNES, "--tune", "1", "--player", "anna"]) == 0
    printed = capsys.readouterr()
    assert printed.err == (
        "reedwright: 'anna' owns C, G and low D; only these are looked at (--any-harp for all).\n"
    )
    rows = [line for line in printed.out.splitlines() if line[:2].strip().isdigit()]
    assert len(rows) == 9 and all(
        any(harp in row for harp in (" C harp", " G harp", "low D harp")) for row in rows
    )
    # Common practice for Irish and Scottish tunes in first position, no source.
    assert "retune  your G harp, which becomes a G harp, raised 3 blow" in printed.out
    assert "hole 3 blow from D4 up to E4, 2 semitones" in printed.out
    assert printed.out.count("eye protection") == 1


def test_any_harp_and_owned_lift_what_the_profile_lists(capsys: Capture) -> None:
    run(capsys, "player", "new", "anna", "--harps", "C")
    harps = ("harps", TUNES, "--tune", "1", "--player", "anna", "--json")

    def keys(*more: str) -> set[str]:
        return {each["harp"]["name"] for each in json.loads(run(capsys, *harps, *more))}

    assert keys() == {"C harp"}
    assert len(keys("--any-harp")) > 100
    assert keys("--owned", "A, D:richter:blow 1-3") == {"A harp", "D harp, 3 reeds valved"}
    assert "exclude each other" in refused(capsys, *harps[:-1], "--owned", "A", "--any-harp")
    assert "no tuning named 'no'" in refused(capsys, *harps[:-1], "--owned", "C:no")


def test_the_json_of_the_ranking_has_the_next_best_at_its_best_harp(capsys: Capture) -> None:
    harps = ("harps", TUNES, "--player", "first-year", "--json")
    ranked = json.loads(run(capsys, *harps, "--tune", "1", "--owned", "G, C"))
    assert isinstance(ranked, list) and [each["rank"] for each in ranked] == [1, 2, 3, 4, 5, 6]
    found = ranked[0]["next_best"]
    assert set(found) == {"buy", "retune"}
    assert found["retune"]["reeds"] == [
        {"hole": 3, "breath": "blow", "from": "D4", "to": "E4", "semitones": 2}
    ]
    assert set(ranked[1]) - {"rank"} == set(found["buy"])
    assert set(found["retune"]) - set(found["buy"]) == {"owned", "reeds", "caution"}
    assert all("next_best" not in each for each in ranked[1:])
    assert "next_best" not in json.loads(run(capsys, *harps, "--tune", "1"))[0]
    everything = json.loads(run(capsys, *harps, "--tune", "all", "--owned", "G, C"))
    assert everything[0]["harps"] == ranked
    assert all("next_best" in each["harps"][0] for each in everything)


def test_a_whole_book_is_told_once_and_warned_once(capsys: Capture) -> None:
    run(capsys, "player", "new", "anna", "--from", "first-year", "--harps", "G")
    assert main(["harps", TUNES, "--tune", "all", "--player", "anna"]) == 0
    printed = capsys.readouterr()
    assert printed.err.count("'anna' owns G;") == 1
    assert printed.out.count("  retune  ") > 1
    assert main(["tab", TUNES, "--tune", "all", "--player", "anna"]) == 0
    assert capsys.readouterr().err.count("'anna' owns G;") == 1
    assert printed.out.count("eye protection") == 1


def test_tab_takes_the_best_of_the_owned_harps(capsys: Capture) -> None:
    run(capsys, "player", "new", "anna", "--harps", "A, F, Bb, B, Db, Eb, E")
    assert main(["tab", TUNES, "--tune", "1", "--player", "anna", "--json"]) == 0
    printed = capsys.readouterr()
    assert "'anna' owns 7 harps; only these" in printed.err
    assert json.loads(printed.out)["harp"]["key"] in ("A", "F", "Bb", "B", "Db", "Eb", "E")
    assert main(["tab", TUNES, "--tune", "1", "--player", "anna", "--harp", "G", "--json"]) == 0
    printed = capsys.readouterr()
    assert printed.err == "", "a harp that is named is taken, owned or not"
    assert json.loads(printed.out)["harp"]["key"] == "G"


def test_a_harp_in_a_profile_that_cannot_be_read_is_told_of_first(
    capsys: Capture, folder: Path
) -> None:
    folder.mkdir()
    (folder / "anna.toml").write_text('harps = ["C", "Q"]\n')
    for command in ("harps", "tab", "pack"):
        error = refused(capsys, command, TUNES, "--tune", "1", "--player", "anna")
        assert "the profile 'anna' lists the harp 'Q': 'Q' is not a key" in error
    assert "harps       C, Q" in run(capsys, "player", "show", "anna"), "it can still be looked at"


def test_show_says_what_differs_and_what_it_means(capsys: Capture) -> None:
    run(
        capsys, "player", "new", "anna", "--from", "first-year", "--set", "leap_hole=0.6",
        "--set", "lungs.most_litres=2",
    )  # fmt: skip
    text = run(capsys, "player", "show", "anna")
    assert "leap_hole  0.6  each hole of such a leap (was 0.45)" in text
    assert "most_litres  2  " in text and "(was 1.6)" in text
    assert "breath_change" not in text
    everything = run(capsys, "player", "show", "anna", "--all")
    for each in (*fields(Weights), *fields(Lungs)):
        assert f"  {each.name} " in everything
    report = json.loads(run(capsys, "player", "show", "anna", "--json"))
    assert [each["name"] for each in report["weights"]] == [e.name for e in fields(Weights)]
    assert [each["name"] for each in report["lungs"]] == [each.name for each in fields(Lungs)]
    leap = next(each for each in report["weights"] if each["name"] == "leap_hole")
    assert leap == {
        "name": "leap_hole",
        "value": 0.6,
        "start": 0.45,
        "meaning": "each hole of such a leap",
    }
    assert json.loads(run(capsys, "player", "--json", "show", "anna")) == report


def test_change_adds_and_drops_harps_and_keeps_what_the_user_wrote(
    capsys: Capture, folder: Path
) -> None:
    run(capsys, "player", "new", "anna", "--harps", "C, G")
    path = folder / "anna.toml"
    path.write_text(path.read_text() + "# Tuesdays at four\n")
    run(
        capsys, "player", "change", "anna", "--add-harp", "A:richter:blow 1-6, draw 7 8",
        "--add-harp", "Bb, C", "--drop-harp", "g:richter", "--techniques", "none",
    )  # fmt: skip
    run(capsys, "player", "change", "anna", "--title", "Anna B")
    report = json.loads(run(capsys, "player", "show", "anna", "--json"))
    assert report["title"] == "Anna B"
    assert report["harps"] == ["C", "A:richter:blow 1-6, draw 7 8", "Bb"]
    assert report["techniques"] == []
    assert "# Tuesdays at four" in path.read_text()
    run(capsys, "player", "change", "anna", "--harps", "any")
    assert json.loads(run(capsys, "player", "show", "anna", "--json"))["harps"] == []


def test_a_class_has_what_all_have(capsys: Capture) -> None:
    run(capsys, "player", "new", "anna", "--from", "first-year", "--harps", "C, G, low D")
    run(capsys, "player", "new", "ben", "--harps", "G:richter, Bb")
    text = run(capsys, "player", "class", "tuesday", "--of", "anna, ben, player")
    assert "tuesday  plain notes only; owns G" in text
    assert "class of anna, ben, player" in run(capsys, "player")
    assert "as in the defaults" in run(capsys, "player", "show", "tuesday")
    assert main(["harps", TUNES, "--tune", "1", "--player", "tuesday"]) == 0
    assert "'tuesday' owns G;" in capsys.readouterr().err


def test_a_class_says_whose_weakness_is_whose(capsys: Capture) -> None:
    run(capsys, "player", "new", "anna", "--from", "first-year", "--set", "leap_hole=0.7")
    run(
        capsys,
        "player",
        "new",
        "ben",
        "--techniques",
        "draw bend",
        "--set",
        "lungs.most_litres=1.3",
    )
    run(capsys, "player", "class", "tuesday", "--of", "anna,ben,player")
    text = run(capsys, "player", "show", "tuesday")
    assert "plain notes only (draw bend: not anna; blow bend: not anna, ben; valved" in text
    assert "each hole of such a leap (default 0.3; as anna)" in text
    assert "must breathe (default 1.6; as ben)" in text


def test_a_class_without_a_harp_in_common_is_told_what_to_do(capsys: Capture, folder: Path) -> None:
    run(capsys, "player", "new", "anna", "--harps", "C")
    run(capsys, "player", "new", "ben", "--harps", "G")
    error = refused(capsys, "player", "class", "tuesday", "--of", "anna,ben")
    assert "anna, ben own no harp in common" in error
    assert not (folder / "tuesday.toml").exists()
    run(capsys, "player", "class", "tuesday", "--of", "anna,ben", "--harps", "A")
    run(capsys, "player", "class", "free", "--of", "anna,ben", "--harps", "any")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ("new player", "'player' comes with Reedwright and stays as it is; choose another name"),
        ("new anna", "there is a profile 'anna'"),
        ("new a/b", "cannot be the name of a profile"),
        ("new ben --from ann", "no player profile named 'ann', did you mean 'anna'?"),
        ("new ben --set leep=1", "no weight 'leep', did you mean 'leap'?"),
        ("new ben --set leap=fast", "'fast' is not a number"),
        ("new ben --techniques bend", "--techniques: 'techniques' has 'bend'"),
        ("new ben --harps H", "'H' is not a key"),
        ("change anna", "nothing to change in 'anna'; say what"),
        ("change player --title x", "copy it and change the copy: reedwright player new my-player"),
        ("change anna --unset leap", "'leap' is not set in this profile's own file"),
        ("change anna --drop-harp F", "no 'F' among the harps listed (C)"),
        ("change ben --add-harp F", "no player profile named 'ben'"),
        ("class c --of ,", "'c' has nobody in it"),
        ("class c --of anna,zed", "no player profile named 'zed'"),
        ("show zed", "no player profile named 'zed'"),
        ("show ./zed.toml", "there is no such profile file"),
    ],
)
def test_each_mistake_is_one_clear_line(
    arguments: str, said: str, capsys: Capture, folder: Path
) -> None:
    run(capsys, "player", "new", "anna", "--harps", "C")
    before = (folder / "anna.toml").read_bytes()
    assert said in refused(capsys, "player", *arguments.split())
    assert [each.name for each in folder.iterdir()] == ["anna.toml"]
    assert (folder / "anna.toml").read_bytes() == before


def test_a_broken_profile_does_not_hide_the_others(capsys: Capture, folder: Path) -> None:
    run(capsys, "player", "new", "anna")
    (folder / "ben.toml").write_text("leap = 1\n")
    assert main(["player"]) == 1
    printed = capsys.readouterr()
    assert "anna" in printed.out and "ben.toml: unknown key 'leap'" in printed.err


def test_overwriting_is_done_only_when_told(capsys: Capture) -> None:
    run(capsys, "player", "new", "anna", "--harps", "C")
    run(capsys, "player", "new", "anna", "--harps", "G", "--overwrite")
    assert json.loads(run(capsys, "player", "show", "anna", "--json"))["harps"] == ["G"]


def test_every_player_command_on_the_page_of_docs_works(capsys: Capture) -> None:
    run(capsys, "player", "new", "ben")
    commands = re.findall(r"^    reedwright (player.*)$", PAGE.read_text("utf-8"), re.MULTILINE)
    assert len(commands) >= 8
    for command in commands:
        run(capsys, *shlex.split(command, comments=True))


def test_the_page_of_docs_has_every_key_and_every_figure_of_the_lungs(folder: Path) -> None:
    page = PAGE.read_text(encoding="utf-8")
    assert all(f"`{key}`" in page or f"`[{key}]`" in page for key in KEYS)
    for each in fields(Lungs):
        assert f"| `{each.name}` | {each.default:g} | {each.metadata['meaning']} |" in page
    (example,) = re.findall(r"```toml\n(.*?)```", page, re.DOTALL)
    folder.mkdir()
    (folder / "anna.toml").write_text(example, encoding="utf-8")
    anna = load_profile("anna")
    assert anna.harps == ("C", "G:richter-raised-3-blow:half", "low D")
    assert (anna.weights.leap_hole, anna.lungs.most_litres) == (0.6, 1.4)
