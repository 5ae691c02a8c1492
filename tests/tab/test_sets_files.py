"""Rules and evenings as TOML: read as meant, written to be read again, mistakes told."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sets_tunes import tunes_of

from reedwright.harp.making import make_harp, parse_harp
from reedwright.harp.model import Breath, Harp, Reed
from reedwright.harp.naming import KEYS
from reedwright.harp.tunings import all_tunings
from reedwright.harp.written import harp_text
from reedwright.tab.sets.eveningfile import (
    evening_from_toml,
    evening_toml,
    read_evening,
)
from reedwright.tab.sets.model import Evening, SetEntry, TuneSet
from reedwright.tab.sets.rules import SetRules, Weights
from reedwright.tab.sets.rulesfile import read_rules
from reedwright.tab.sets.wishes import SetsError

TUNES = tunes_of(("reel", "D"), ("jig", "G"), ("waltz", "A"))


def rules_of(tmp_path: Path, text: str) -> SetRules:
    path = tmp_path / "rules.toml"
    path.write_text(text, encoding="utf-8")
    return read_rules(path)


def test_rules_are_read_as_they_are_meant(tmp_path: Path) -> None:
    found = rules_of(
        tmp_path,
        """
        size = [1, 3]
        usual = 2
        times = 2
        set_minutes = [3, 6.5]
        mixed = [["Jigs", "reel"]]
        types = ["reels", "double jig"]
        hardest = "first"
        keep = [["A", "B"]]
        follow = [["B", "C"]]
        apart = [["A", "C"]]
        first = "A"
        last = " C "
        most_harps = 2
        break_seconds = 30
        [weights]
        key = 2
        join = 0
        """,
    )
    assert found == SetRules(
        fewest=1,
        most=3,
        usual=2,
        times=2,
        set_minutes=(3, 6.5),
        break_seconds=30,
        mixed=(("jig", "reel"),),
        types=("reel", "jig"),
        hardest="first",
        keep=(("A", "B"),),
        follow=(("B", "C"),),
        apart=(("A", "C"),),
        first="A",
        last="C",
        most_harps=2,
        weights=Weights(key=2, join=0),
    )
    assert rules_of(tmp_path, "") == SetRules()
    assert rules_of(tmp_path, "size = [4, 5]").usual == 4


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("times = 2\nsise = [2, 3]", r"rules.toml, line 2: there is no rule 'sise'.*'size'"),
        ("[weights]\nkeys = 1", r"line 2: there is no weight 'keys'.*'key'"),
        ("[weights]\nkey = -1", "weight 'key' must be a number, 0 to 100"),
        ("size = [2, 3.5]", "two whole numbers"),
        ("size = 3", "two numbers, least and most"),
        ("times = true", "must be a number"),
        ("times = 1.5", "whole number"),
        ("types = ['tarantula']", "'tarantula' is no type of tune"),
        ("keep = ['A', 'B']", "must be lists of two or more names"),
        ("follow = [['A', 'B', 'C']]", "must be lists of two names"),
        ("hardest = 'middle'", r"rules.toml: Hardest tune 'middle': say last, first or any"),
        ("weights = 3", r"write the line \[weights\]"),
        ("first = 3", "text in quotation marks"),
        ("size = [", "not a valid TOML file"),
    ],
)
def test_mistakes_in_rules_are_told_with_their_place(tmp_path: Path, text: str, told: str) -> None:
    with pytest.raises(SetsError, match=told):
        rules_of(tmp_path, text)


VALVES = st.frozensets(
    st.builds(Reed, st.integers(1, 10), st.sampled_from(list(Breath))), max_size=20
)


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from([t for t in all_tunings().values() if t.holes == 10]),
    st.sampled_from(KEYS),
    st.sampled_from(["ordinary", "low"]),
    VALVES | st.sampled_from(["as made", "none", "half", "full"]),
)
def test_every_harp_is_written_so_that_it_is_read_back(
    tuning: object, key: str, register: str, valves: object
) -> None:
    harp = make_harp(key, tuning, register, valves)
    assert parse_harp(harp_text(harp)) == harp


def harp(text: str) -> Harp:
    return parse_harp(text)


EVENING = Evening(
    "Thursday",
    (
        TuneSet(
            "One",
            (
                SetEntry(TUNES[0], harp("D"), 1, 0, 0.5, 3, "begins"),
                SetEntry(TUNES[2], harp("G:richter-raised-3-blow:half"), 0, 2, 0.75, 2),
            ),
            "both easy",
        ),
        TuneSet("Two", (SetEntry(TUNES[1], harp("low D")),)),
    ),
)


def test_an_evening_is_written_and_read_back(tmp_path: Path) -> None:
    text = evening_toml(EVENING)
    assert evening_from_toml(text, TUNES) == EVENING
    path = tmp_path / "evening.toml"
    path.write_text(text, encoding="utf-8")
    assert read_evening(path, TUNES) == EVENING


def test_a_tune_is_found_by_its_uid_first_then_by_title_and_number() -> None:
    uids = {tune.title: f"{at:032x}" for at, tune in enumerate(TUNES)}
    text = evening_toml(EVENING, lambda tune: uids[tune.title])
    assert f'uid = "{uids["A"]}"' in text
    other = replace(TUNES[0], titles=("Renamed",))
    found = evening_from_toml(text, TUNES, {uids["A"]: other})
    assert found.sets[0].entries[0].tune is other
    # Two of one title: the number tells them apart.
    twins = [replace(TUNES[1], titles=("A",)), *TUNES]
    assert evening_from_toml(evening_toml(EVENING), twins).sets[0].entries[0].tune is twins[1]


def test_an_evening_can_be_written_by_hand_with_titles_and_harps_alone() -> None:
    found = evening_from_toml(
        '[[set]]\n[[set.tune]]\ntitle = "b"\nharp = "G"\n[[set.tune]]\nnumber = 3\nharp = "A"\n',
        TUNES,
    )
    (only,) = found.sets
    assert only.name == "Set 1"
    assert [entry.tune.title for entry in only.entries] == ["B", "C"]
    assert [entry.times for entry in only.entries] == [3, 3]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("titel = 'x'", "there is no 'titel', did you mean 'title'"),
        ("[[set]]\n[[set.tune]]\ntitle='A'", "set 1, tune 1: no harp"),
        ("[[set]]\n[[set.tune]]\ntitle='A'\nharp='H'", "set 1, tune 1: 'H' is not a key"),
        ("[[set]]\n[[set.tune]]\ntitle='Q'\nharp='G'", "tune 1: 'Q' is not among the tunes"),
        ("[[set]]\n[[set.tune]]\nharp='G'", "which tune"),
        ("[[set]]\n[[set.tune]]\ntitle='A'\nharp='G'\ntimes=0", "'times' must be 1 or more"),
        ("[[set]]\n[[set.tune]]\ntitle='A'\nharp='G'\noctaves='1'", "must be a whole number"),
        ("set = 3", r"under a line \[\[set\]\]"),
        ("set = [", "not a valid TOML file"),
    ],
)
def test_mistakes_in_an_evening_are_told_with_their_place(text: str, told: str) -> None:
    with pytest.raises(SetsError, match=told):
        evening_from_toml(text, TUNES)


@pytest.mark.parametrize("text", ["", 'title = "Thursday"', '[[set]]\nname = "Openers"'])
def test_an_evening_without_tunes_is_refused(text: str) -> None:
    with pytest.raises(SetsError, match="no tunes in this evening"):
        evening_from_toml(text, ())
