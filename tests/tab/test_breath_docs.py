"""The page on breath: its worked examples, figures and costs are those of the program."""

import re
from dataclasses import asdict
from pathlib import Path

import pytest

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.player.lungs import Lungs
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath import places
from reedwright.tab.breath.account import breath_account
from reedwright.tab.breath.plan import practice_breaths
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

PAGE = (Path(__file__).parents[2] / "docs" / "breath.md").read_text()


def example(title: str) -> Arrangement:
    source = re.search(rf"    (X:\d+\n    T:{title}\n(?:    .*\n)+)", PAGE)
    assert source is not None
    (tune,) = read_abc(source[1].replace("\n    ", "\n"))
    assert isinstance(tune, Tune)
    return arrange(tune, make_harp("C"), load_profile("player"))


def rows(first: str) -> list[list[str]]:
    """The rows of the table whose heading begins so."""
    table = PAGE[PAGE.index(f"| {first} |") :].split("\n\n")[0].splitlines()
    return [[cell.strip() for cell in line.strip("| ").split("|")] for line in table[2:]]


def test_the_first_example_is_what_the_program_counts() -> None:
    levels = [float(row[2]) for row in rows("note")]
    assert breath_account(example("Every kind"), breaths=()).ends == pytest.approx(levels, abs=1e-9)


def test_the_sums_of_the_first_example_add_up() -> None:
    for _, written, level in rows("note"):
        assert re.fullmatch(r"[-+x0-9. ]+", written)
        assert eval(written.replace("x", "*")) == pytest.approx(float(level))  # our own page


def test_the_second_example_is_what_the_program_proposes() -> None:
    tune = example("All drawn")
    table = {row[0]: [float(cell) for cell in row[1:]] for row in rows("bar")}
    fast, slow = practice_breaths(tune).plans
    assert fast.without.ends == pytest.approx(table["without"], abs=1e-4)
    assert fast.account.ends == pytest.approx(table["at full speed"], abs=1e-4)
    assert slow.without.ends == pytest.approx(table["slow, without"], abs=1e-4)
    assert slow.account.ends == pytest.approx(table["slow"], abs=1e-4)
    assert [mark.bar for mark in fast.marks] == [4]
    assert [mark.bar for mark in slow.marks] == [2, 3, 4]


def test_the_figures_are_those_of_the_lungs() -> None:
    told = {row[0].strip("`"): float(row[1]) for row in rows("figure")}
    assert told == asdict(Lungs())


def test_the_costs_are_those_of_the_places() -> None:
    told = [row[1] for row in rows("place")]
    eased = places.DROPPED_COST - places.DROPPED_EASED
    assert [float(cell.split(",")[0]) for cell in told] == [
        places.PART_COST,
        places.BEFORE_REST_COST,
        places.LONG_PHRASE_COST,
        places.SHORT_PHRASE_COST,
        places.LONG_NOTE_COST,
        places.BEAM_GAP_COST,
        places.WITHIN_BEAM_COST,
        places.SLUR_COST,
        places.DROPPED_COST,
    ]
    assert f"or {eased:g} where" in told[-1]
    assert f"it costs {places.SHORT_COST} more" in PAGE
    assert f"the mean it costs {places.VERY_SHORT_COST} more" in PAGE
