"""`reedwright tunings` as a user meets it: search, save, plot, stop and go on, mistakes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from judged_by_ranking import judged

from reedwright.cli import tunings
from reedwright.cli.main import main
from reedwright.cli.output import Progress
from reedwright.errors import ReedwrightError
from reedwright.harp.model import Breath, Reed
from reedwright.harp.tunings import find_tuning, read_tuning
from reedwright.player.loading import load_profile
from reedwright.tune.reading import read_tunes
from reedwright.workshop.search import crew
from reedwright.workshop.search.model import Change, SearchWishes

TUNES = Path(__file__).resolve().parents[2] / "examples" / "tunes.abc"
QUICK = ("--keys", "G, D", "--player", "first-year", "--jobs", "1")


@pytest.fixture(autouse=True)
def folder_of_their_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither the user's tunings nor their cache."""
    monkeypatch.setenv("REEDWRIGHT_TUNINGS", str(tmp_path / "tunings"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


def search(*more: str) -> int:
    return main(["tunings", "search", str(TUNES), *QUICK, *more])


def test_the_table_tells_the_best_and_the_tunes_won(capsys) -> None:
    assert search("--most", "2", "--tunes") == 0
    out = capsys.readouterr().out
    assert "7 tunes, player 'first-year', from Richter: each tune on the best of 2 keys" in out
    assert "One reed changed. All ways were tried: there is none better." in out
    assert "1  2 draw up 2" in out and "2  3 blow up 2" in out
    assert "2 draw up 2, tunes won: The Reedmaker's Latch; The Glassblower's Waltz" in out
    assert "2 draw up 2, tunes lost: none" in out
    assert max(len(line) for line in out.splitlines()[2:]) <= 100


def test_the_json_agrees_with_the_ranking_of_harps(capsys) -> None:
    """The numbers told are those of `rank_harps`, on the layouts told."""
    assert search("--json", "--keep", "blow 4-10, draw 4-10", "--reeds", "1") == 0
    found = json.loads(capsys.readouterr().out)
    assert found["tunes"][0] == "The Reedmaker's Latch" and len(found["tunes"]) == 7
    assert (found["reeds"], found["exact"], found["layouts"]) == (1, 1, 25)
    assert len(found["kept"]) == 14 and found["from"] == "richter"
    (one,) = found["best"]
    assert one["reeds"] == 1 and one["exact"] and one["least_effort"] is None
    base, best = (), one["by_effort"][0]
    (change,) = best["changes"]
    assert (change["from"], change["to"]) == ("G4", "A4")
    layout = (Change(Reed(change["hole"], Breath(change["breath"])), change["semitones"]),)
    wishes = SearchWishes(find_tuning("richter"), keys=("G", "D"))
    rows = judged(list(read_tunes(TUNES)), load_profile("first-year"), wishes, [base, layout])
    for told, column in ((found["base"], 0), (best, 1)):
        assert told["plain"] == rows.plain[:, column].sum()
        assert told["playable"] == (rows.missing[:, column] == 0).sum()
        mean = (rows.units[:, column] / 1024 / rows.played).mean()
        assert told["effort"] == pytest.approx(mean, abs=1e-6)
    won = [t for t in range(7) if rows.plain[t, 1] and not rows.plain[t, 0]]
    lost = [t for t in range(7) if rows.plain[t, 0] and not rows.plain[t, 1]]
    assert (best["won"], best["lost"]) == (won, lost)
    assert best["effort_saved"] == pytest.approx(found["base"]["effort"] - best["effort"], abs=2e-6)
    assert found["frontier"][0]["changes"] == []


def test_a_saved_tuning_is_read_back_and_used_by_other_commands(tmp_path, capsys) -> None:
    place = tmp_path / "tunings" / "sheffield.toml"
    place.parent.mkdir()
    asked = ("--keep", "draw 1-10", "--out", str(place), "--title", "for the session")
    assert search(*asked) == 0
    assert "reedwright harp C sheffield" in capsys.readouterr().out
    saved, richter = read_tuning(place), find_tuning("richter")
    assert saved.title == "for the session"
    assert "Richter with 3 blow up 2." in saved.description
    assert (saved.draw, saved.blow) == (richter.draw, (*richter.blow[:2], 69, *richter.blow[3:]))
    assert main(["harp", "G", "sheffield"]) == 0
    assert "for the session" in capsys.readouterr().out
    assert main(["tunings", "list"]) == 0
    assert "sheffield                     3 blow up 2" in capsys.readouterr().out


def test_another_row_may_be_taken_and_kept_anywhere(tmp_path, capsys) -> None:
    place = tmp_path / "second.toml"
    assert search("--out", str(place), "--take", "2") == 0
    assert f"reedwright harp C {place}" in capsys.readouterr().out
    assert read_tuning(place).title == "3 blow up 2"
    assert search("--out", str(place), "--take", "5", "--keep", "blow 4-10, draw 1-10") == 1
    assert "nothing was saved" in capsys.readouterr().err


def test_a_label_and_valves_of_the_base_are_kept(tmp_path) -> None:
    """Natural minor harps are named by second position; that must survive."""
    place = tmp_path / "minor.toml"
    assert search("--from", "natural-minor", "--out", str(place)) == 0
    saved, base = read_tuning(place), find_tuning("natural-minor")
    assert saved.first_position == base.first_position == 5
    differing = [
        (one, other)
        for row, before in ((saved.blow, base.blow), (saved.draw, base.draw))
        for one, other in zip(row, before, strict=True)
        if one != other
    ]
    assert len(differing) == 1 and abs(differing[0][0] - differing[0][1]) <= 2
    assert saved.title.startswith(f"{base.title}, ")


def test_the_plot_is_drawn_as_asked(tmp_path, capsys) -> None:
    for name, beginning in (("plot.svg", b"<svg"), ("plot.png", b"\x89PNG")):
        place = tmp_path / name
        assert search("--plot", str(place)) == 0
        assert place.read_bytes().startswith(beginning)
    assert f"Drawn: {place}" in capsys.readouterr().out


class Interrupted(Progress):
    """Ctrl-C when the third tune is done."""

    def __call__(self, share: float, doing: str) -> None:
        if "3 of 7" in doing:
            raise KeyboardInterrupt


def test_a_stopped_search_goes_on_where_it_was(monkeypatch, capsys, tmp_path) -> None:
    assert search("--json", "--work", str(tmp_path / "whole")) == 0
    whole = json.loads(capsys.readouterr().out)
    work = tmp_path / "work"
    with monkeypatch.context() as during:
        during.setattr(tunings, "Progress", Interrupted)
        assert search("--json", "--work", str(work)) == 130
    told = capsys.readouterr()
    assert not told.out and "give the same command again and it goes on" in told.err
    worked = []
    solved = crew.solved
    monkeypatch.setattr(crew, "solved", lambda *args: worked.append(1) or solved(*args))
    assert search("--json", "--work", str(work)) == 0
    assert json.loads(capsys.readouterr().out) == whole
    assert len(worked) == 4  # of 7 tunes
    # Another search does not take that work for its own; the finished one is there at once.
    assert search("--json", "--work", str(work), "--semitones", "1") == 0
    assert len(worked) == 4 + 7
    assert search("--json", "--work", str(work)) == 0
    assert len(worked) == 4 + 7


def test_what_was_not_touched_for_long_is_removed_and_nothing_else(tmp_path) -> None:
    import os
    import time

    old, young, other = (tmp_path / name for name in ("a.search", "b.search", "letter.txt"))
    for each in (old, young, other):
        each.write_text("")
    long_ago = time.time() - 40 * 86400
    os.utime(old, (long_ago, long_ago))
    os.utime(other, (long_ago, long_ago))
    assert search("--work", str(tmp_path)) == 0
    assert not old.exists() and young.exists() and other.exists()


def test_tunes_that_cannot_be_used_are_told_and_left_out(tmp_path, capsys) -> None:
    book = tmp_path / "book.abc"
    book.write_text(
        "X:1\nT:Good\nK:G\nGABc|\n\nX:2\nT:Bad\nK:Qz\nGABc|\n\nX:3\nT:Still\nK:G\nz4|\n",
        encoding="utf-8",
    )
    assert main(["tunings", "search", str(book), *QUICK, "--json"]) == 1
    told = capsys.readouterr()
    assert json.loads(told.out)["tunes"] == ["Good"]
    assert "'Qz' is no key" in told.err and "there are no notes in this tune" in told.err


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("--keep", "draw 11"), "--keep: there is no hole 11"),
        (("--keep", "3 blow"), "--keep: say blow or draw before '3'"),
        (("--keep", "full"), "leave some free to change"),
        (("--from", "richtre"), "did you mean 'richter'"),
        (("--keys", "H"), "'H' is not a key"),
        (("--player", "nobody-at-all"), "nobody-at-all"),
        (("--out", "richter.toml"), "comes with Reedwright"),
        (("--out", "mine.txt"), "saved as a .toml file"),
        (("--out", "mine.toml", "--take", "9"), "--most 9"),
        (("--title", "x"), "give --out, too"),
        (("--plot", "x.jpg"), ".svg or .png"),
        (("--valves", "most"), "valves: 'most' is not understood"),
        (("--cluster", "tcp://127.0.0.1:9"), "no scheduler answers there"),
    ],
)
def test_mistakes_are_told_in_one_sentence(asked, said, capsys, monkeypatch) -> None:
    monkeypatch.setattr("reedwright.workshop.search.cluster.CONNECT_SECONDS", 0.2)
    assert search(*asked) == 1
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(
    "asked", [("--reeds", "0"), ("--semitones", "4"), ("--octaves", "-1"), ("--most", "0")]
)
def test_numbers_that_make_no_sense_are_refused(asked) -> None:
    with pytest.raises(SystemExit) as stopped:
        search(*asked)
    assert stopped.value.code == 2


def test_where_there_is_no_tune_it_is_told(tmp_path, capsys) -> None:
    assert main(["tunings", "search", str(tmp_path / "none.abc")]) == 1
    assert "there is no such file" in capsys.readouterr().err
    assert main(["tunings", "search", str(tmp_path)]) == 1
    assert "there is no tune to search a tuning for" in capsys.readouterr().err


def test_the_list_tells_what_sets_a_tuning_apart(capsys) -> None:
    assert main(["tunings", "list"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].split() == ["richter", "the", "standard", "tuning"]
    assert "3 blow up 2, 5 draw up 1" in lines[3]
    assert main(["tunings", "list", "--json"]) == 0
    listed = {each["name"]: each for each in json.loads(capsys.readouterr().out)}
    assert listed["richter-lowered-7-draw"]["changes"] == [
        {"hole": 7, "breath": "draw", "semitones": -1}
    ]
    assert listed["slide-solo-12"]["changes"] is None and listed["slide-solo-12"]["slide"] == 1


@pytest.mark.parametrize("option", ["--out", "--plot"])
def test_a_folder_that_is_missing_is_told_before_the_work(option: str, tmp_path, capsys) -> None:
    name = {"--out": "mine.toml", "--plot": "mine.png"}[option]
    assert search(option, str(tmp_path / "nowhere" / name)) == 1
    said = capsys.readouterr()
    assert "there is no folder" in said.err and not said.out


def test_more_reeds_than_the_harp_has_are_refused(capsys) -> None:
    assert search("--reeds", "30") == 1
    assert "more than the 20 reeds" in capsys.readouterr().err
    assert search("--reeds", "4", "--keep", "blow 1-10, draw 1-7") == 1
    assert "more than the 3 reeds" in capsys.readouterr().err


@pytest.mark.parametrize("option", ["--plot", "--out"])
def test_a_folder_that_cannot_be_written_to_is_told_before_the_work(
    option: str, tmp_path, capsys, monkeypatch
) -> None:
    monkeypatch.setattr("os.access", lambda *_: False)
    monkeypatch.setattr("reedwright.cli.tunings._searched", None)  # would not get that far
    name = "x.svg" if option == "--plot" else "x.toml"
    assert search(option, str(tmp_path / name)) == 1
    assert "cannot be written to" in capsys.readouterr().err


def test_a_drawing_that_fails_loses_no_tuning(tmp_path, capsys, monkeypatch) -> None:
    def fails(*_) -> str:
        raise ReedwrightError("no drawing today")

    monkeypatch.setattr("reedwright.page.frontierplot.frontier_svg", fails)
    saved = tmp_path / "mine.toml"
    assert search("--out", str(saved), "--plot", str(tmp_path / "x.svg")) == 1
    assert "no drawing today" in capsys.readouterr().err
    assert saved.is_file()


def test_stopped_before_any_work_it_does_not_say_that_work_is_kept(capsys, monkeypatch) -> None:
    def stopped(*_) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("reedwright.workshop.search.engine.prepare", stopped)
    assert search() == 130
    said = capsys.readouterr().err
    assert "before any tune" in said and "kept" not in said
