"""The indexes of a book: how titles are filed, and what each index holds.

Rules of filing (leading articles, accents and punctuation are passed over): as in the rules of
libraries and of book indexes, ISO 999:1996 (from memory).
"""

from __future__ import annotations

from dataclasses import replace
from itertools import chain

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reedwright.harp.making import make_harp
from reedwright.page.book.indexes import OTHER, filed_title, indexes, sorted_title
from reedwright.page.book.melody import beginning
from reedwright.page.book.model import TuneEntry
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tune.abc import read_tunebook
from reedwright.tune.model import Tune

PLAIN = TuneEntry(
    name="a", title="A", also=(), type="reel", key="D major", composer="", harp="D harp",
    position=1, grade=2.0, begins="1", rights="", address="", page={"melody": (0,)}, height=1.0,
)  # fmt: skip


def tune(title: str, **changes: object) -> TuneEntry:
    return replace(PLAIN, title=title, **changes)  # type: ignore[arg-type]


def index(tunes: list[TuneEntry], name: str) -> dict[str, list[tuple[str, int]]]:
    (found,) = (each for each in indexes(tunes) if each.name == name)
    return {g.label: [(row.text, row.tune) for row in g.rows] for g in found.groups}


def begun(abc: str) -> tuple[str, tuple[int, ...]]:
    (read,) = (t for t in read_tunebook(abc.splitlines()) if isinstance(t, Tune))
    return beginning(arrange(read, make_harp("C"), load_profile("all-techniques")))


def test_titles_are_filed_without_article_accent_and_punctuation() -> None:
    titles = ["The Zebra", "Émile's Reel", "“Apple” Jig", "A Bee", "éclair", "An Egg", "3 Steps"]
    tunes = [tune(title) for title in titles]
    assert index(tunes, "Titles") == {
        OTHER: [("3 Steps", 6)],
        "A": [("“Apple” Jig", 2)],
        "B": [("Bee, A", 3)],
        "E": [("éclair", 4), ("Egg, An", 5), ("Émile's Reel", 1)],
        "Z": [("Zebra, The", 0)],
    }


@pytest.mark.parametrize(
    ("one", "other"),
    [("The Ærø Waltz", "aero waltz"), ("Øster", "oster"), ("O'Dwyer’s", "ODwyers"), ("A", "a")],
)
def test_these_titles_are_filed_as_one(one: str, other: str) -> None:
    assert sorted_title(one)[0] == sorted_title(other)[0]


def test_an_article_that_is_all_of_a_title_stays() -> None:
    assert [filed_title(title) for title in ("The", "A", "Theodora")] == ["The", "A", "Theodora"]
    assert filed_title("The Kettle") == "Kettle, The"
    assert sorted_title("Kettle, The")[0] == sorted_title("The Kettle")[0]


def test_other_names_stand_in_the_index_of_titles_alone() -> None:
    tunes = [tune("One", also=("Uno", "One")), tune("Two")]
    assert list(chain(*index(tunes, "Titles").values())) == [("One", 0), ("Two", 1), ("Uno", 0)]
    assert len(list(chain(*index(tunes, "Harps").values()))) == 2


@given(
    st.lists(
        st.builds(
            tune,
            st.text(min_size=1, max_size=8),
            type=st.sampled_from(["reel", "Reel", "jig", ""]),
            key=st.sampled_from(["D major", "B♭ major", "D major (estimated)", ""]),
            harp=st.sampled_from(["D harp", "G harp"]),
            page=st.builds(lambda steps: {"melody": steps}, st.lists(st.integers(-3, 9))),
        ),
        min_size=1,
        max_size=12,
    )
)
def test_every_tune_stands_once_in_every_index(tunes: list[TuneEntry]) -> None:
    for each in indexes(tunes):
        rows = [row.tune for group in each.groups for row in group.rows]
        assert sorted(rows) == list(range(len(tunes))), each.name


def test_types_are_one_however_they_are_written_and_keys_however_they_were_found() -> None:
    tunes = [tune("a", type="Reel"), tune("b", type="reel"), tune("c", type="jig", key="G dorian")]
    tunes.append(tune("d", key="D major (estimated)"))
    assert {k: len(rows) for k, rows in index(tunes, "Types").items()} == {"Jig": 1, "Reel": 3}
    assert {k: len(rows) for k, rows in index(tunes, "Keys").items()} == {
        "D major": 3,
        "G dorian": 1,
    }


def test_an_index_of_one_group_is_left_out_but_the_harps_are_always_told() -> None:
    assert [each.name for each in indexes([tune("a"), tune("b")])] == [
        "Titles",
        "Harps",
        "First notes",
    ]


def test_a_melody_begins_with_the_steps_of_its_first_full_bars() -> None:
    """G major: G is 1, the D below it 5 with a comma; upbeat, graces and ties are passed over."""
    assert begun("X:1\nT:t\nM:4/4\nL:1/4\nK:G\nD|G{a}B d2-|d D g f|]").text == "135 | 5,1'7"


def test_the_same_tune_in_another_key_and_octave_is_filed_in_the_same_place() -> None:
    one = begun("X:1\nT:t\nM:4/4\nL:1/4\nK:C\nGEcd|G2 c2|]")
    other = begun("X:1\nT:t\nM:4/4\nL:1/4\nK:D\nafd'e'|a2 d'2|]")
    assert one == other
    assert one.text == "531'2' | 51'"


def test_first_notes_are_sorted_by_melody() -> None:
    tunes = [
        tune("up", begins="12", page={"melody": (0, 1)}),
        tune("fifth", begins="5", page={"melody": (4,)}),
        tune("down", begins="17,", page={"melody": (0, -1)}),
    ]
    assert index(tunes, "First notes") == {
        "Begins on 1": [("17,", 2), ("12", 0)],
        "Begins on 5": [("5", 1)],
    }
