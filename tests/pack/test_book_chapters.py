"""Tunes put into chapters and in order."""

from typing import NamedTuple

from hypothesis import given
from hypothesis import strategies as st

from reedwright.harp.making import KEYS, make_harp
from reedwright.pack.book.chapters import GROUPS, chaptered, ordered
from reedwright.page.book.indexes import sorted_title


class Told(NamedTuple):
    title: str = "A tune"
    type: str = ""
    key: str = "G major"
    harp: str = "G harp"
    grade: float = 3.0


def headings(tunes: list[Told], by: str) -> list[str]:
    return [title for title, _ in chaptered(tunes, by)]


def test_types_stand_in_their_usual_order_then_others_by_name_and_those_without_last() -> None:
    types = ["", "waltz", "gavotte", "Slip Jig", "reel", "polonaise", "march", "Reels", "fancy"]
    types.append("slip-jig")
    assert headings([Told(type=each) for each in types], "type") == [
        "Reels", "Slip jigs", "Marches", "Waltzes", "Fancies", "Gavottes", "Polonaises",
        "Other tunes",
    ]  # fmt: skip


def test_grades_are_chapters_by_their_words() -> None:
    # The words of docs/difficulty.md: very easy below 2.5, easy below 4.5, moderate below 6.5.
    grades = [9.0, 1.0, 4.5, 2.5, 4.0, 0.0]
    assert headings([Told(grade=each) for each in grades], "grade") == [
        "Very easy", "Easy", "Moderate", "Very hard", "Other tunes",
    ]  # fmt: skip


def test_keys_stand_by_letter_naturals_first_and_major_before_minor() -> None:
    keys = ["G minor", "D dorian", "Bb major", "", "G major", "F# minor", "D major", "B minor"]
    assert headings([Told(key=each) for each in keys], "key") == [
        "B minor", "Bb major", "D major", "D dorian", "F# minor", "G major", "G minor", "No key",
    ]  # fmt: skip


def test_harps_go_from_the_low_ones_up_in_the_order_of_the_trade() -> None:
    # KEYS is the trade's order, from G up to F sharp.
    harps = [make_harp(key) for key in reversed(KEYS)]
    low, high, half = (
        make_harp("F", register="low"),
        make_harp("A", register="high"),
        make_harp("C", valves="half"),
    )
    names = [harp.name for harp in (*harps, high, half, low)]
    expected = [f"{key} harp" for key in KEYS]
    expected.insert(expected.index("C harp") + 1, "C harp, half-valved")
    assert headings([Told(harp=name) for name in names], "harp") == [
        "Low F harp", *expected, "High A harp",
    ]  # fmt: skip


def test_titles_sort_without_article_accent_case_and_marks() -> None:
    titles = ["The Zither", "an Émigré", "a Latch", "'Bees, The", "Éclair", "latch"]
    tunes = ordered([Told(title=each) for each in titles], "title")
    expected = ["'Bees, The", "Éclair", "an Émigré", "a Latch", "latch", "The Zither"]
    assert [each.title for each in tunes] == expected
    assert sorted_title("The Lamp")[0] == sorted_title("LAMP, the")[0] == "lamp"


def test_by_grade_the_easiest_come_first_and_equals_by_title() -> None:
    tunes = [Told("B", grade=2), Told("C", grade=1), Told("The A", grade=2)]
    assert [each.title for each in ordered(tunes, "grade")] == ["C", "The A", "B"]
    assert ordered(tunes, "given") == tuple(tunes)


@given(
    st.lists(
        st.builds(
            Told,
            title=st.text(max_size=4),
            type=st.sampled_from(["", "reel", "jig", "x"]) | st.text(max_size=3),
            key=st.sampled_from(["", "G major", "A minor", "Hp"]) | st.text(max_size=3),
            harp=st.sampled_from(["G harp", "low D harp", "C harp, solo"]) | st.text(max_size=3),
            grade=st.floats(0, 10),
        ),
        max_size=8,
    ),
    st.sampled_from(GROUPS[1:]),
)
def test_every_tune_stands_in_one_chapter_and_keeps_its_place(tunes: list[Told], by: str) -> None:
    chapters = chaptered(tunes, by)
    assert all(title and mine for title, mine in chapters)
    assert sorted(each for _, mine in chapters for each in mine) == sorted(tunes)
    for _, mine in chapters:
        assert list(mine) == [each for each in tunes if each in mine]
