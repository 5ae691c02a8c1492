"""Which tunes stand on which page of a book, against counting out every way there is."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from reedwright.page.book.model import BookLook, Chapter, TuneEntry
from reedwright.page.book.paging import TURN, Page, Part, body_pages

SHORT, FULL, TWO, THREE = "short", "full", "two", "three"
SHEETS = {SHORT: 1, FULL: 1, TWO: 2, THREE: 3}


def entry(name: str, kind: str) -> TuneEntry:
    return TuneEntry(
        name=name, title=name, also=(), type="reel", key="D major", composer="", harp="D harp",
        position=1, grade=1.0, begins="1", rights="", address="",
        page={"alone": {"sheets": [[]] * SHEETS[kind]}, "shared": {} if kind != SHORT else {"": 0}},
        height=100.0,
    )  # fmt: skip


def chapters(kinds: Sequence[Sequence[str]], title: str = "Chapter") -> tuple[Chapter, ...]:
    return tuple(
        Chapter(title and f"{title} {number}", tuple(entry(f"c{number}t{p}", k) for p, k in each))
        for number, each in enumerate([list(enumerate(kind)) for kind in kinds])
    )


tunes = st.lists(st.sampled_from([SHORT, SHORT, FULL, TWO, THREE]), min_size=1, max_size=8)
looks = st.builds(
    BookLook, two_sided=st.booleans(), two_to_a_page=st.booleans(), paper=st.just("a4")
)


@given(st.lists(tunes, min_size=1, max_size=3), looks)
def test_every_page_of_every_tune_stands_once_and_in_order(
    kinds: list[list[str]], look: BookLook
) -> None:
    pages = body_pages(chapters(kinds), look)
    flat = [kind for each in kinds for kind in each]
    found = [(part.tune, part.sheet) for page in pages for part in page.parts]
    assert found == [(t, sheet) for t, kind in enumerate(flat) for sheet in range(SHEETS[kind])]
    for page in pages:
        assert len(page.parts) <= 2
        if len(page.parts) == 2:
            assert look.two_to_a_page
            assert all(part.way == "shared" and flat[part.tune] == SHORT for part in page.parts)
        else:
            assert all(part.way == "alone" for part in page.parts)


@given(st.lists(tunes, min_size=1, max_size=4))
def test_chapters_of_a_two_sided_book_open_on_right_hand_pages(kinds: list[list[str]]) -> None:
    pages = body_pages(chapters(kinds), BookLook())
    openers = [number for number, page in enumerate(pages, 1) if page.opener]
    assert len(openers) == len(kinds)
    assert all(number % 2 == 1 for number in openers)
    blank = [n for n, page in enumerate(pages) if not page.opener and not page.parts]
    assert all(pages[number + 1].opener for number in blank)  # blank only before a chapter


def test_a_book_without_chapters_begins_with_its_first_tune() -> None:
    pages = body_pages(chapters([[FULL, SHORT]], title=""), BookLook())
    assert pages == (
        Page(0, parts=(Part(0, "alone", 0),)),
        Page(0, parts=(Part(1, "alone", 0),)),
    )


def test_short_neighbours_share_a_page_only_where_it_is_asked_for() -> None:
    kinds = chapters([[SHORT, SHORT, SHORT, SHORT]], title="")
    assert [len(page.parts) for page in body_pages(kinds, BookLook())] == [2, 2]
    alone = BookLook(two_to_a_page=False)
    assert [len(page.parts) for page in body_pages(kinds, alone)] == [1, 1, 1, 1]


def test_a_tune_of_two_pages_stands_on_facing_ones_where_a_page_more_allows_it() -> None:
    """Page 1 is a right-hand one, so facing pages begin with an even number."""
    # One short pair before it would leave it on 2 and 3: nothing to do.
    pages = body_pages(chapters([[SHORT, SHORT, TWO]], title=""), BookLook())
    assert [page.parts[0].tune for page in pages] == [0, 2, 2]
    # Two pairs would put it on 3 and 4: a pair is set apart, and it stands on 4 and 5.
    pages = body_pages(chapters([[SHORT] * 4 + [TWO]], title=""), BookLook())
    assert [page.parts[0].tune for page in pages].index(4) + 1 == 4
    # On single sheets no pages face each other.
    pages = body_pages(chapters([[SHORT] * 4 + [TWO]], title=""), BookLook(two_sided=False))
    assert [page.parts[0].tune for page in pages] == [0, 2, 4, 4]


def every_way(kinds: Sequence[str], pairs: bool) -> list[list[int]]:
    """All ways to give tunes pages: the numbers of tunes that are taken together."""
    if not kinds:
        return [[]]
    ways = [[1, *rest] for rest in every_way(kinds[1:], pairs)]
    if pairs and kinds[:2] == [SHORT, SHORT]:
        ways += [[2, *rest] for rest in every_way(kinds[2:], pairs)]
    return ways


def cost(kinds: Sequence[str], way: Sequence[int], two_sided: bool) -> float:
    """Pages, and what it costs to turn inside a tune more often than it has to be."""
    number, place, total = 1, 0, 0.0
    for taken in way:
        pages = SHEETS[kinds[place]] if taken == 1 else 1
        numbers = range(number, number + pages)
        turned = sum(not two_sided or left % 2 == 1 for left, _ in pairwise(numbers))
        least = (pages - 1) // 2 if two_sided else pages - 1
        total += pages + TURN * (turned - least)
        number += pages
        place += taken
    return total


@given(tunes, looks)
def test_no_other_way_has_fewer_pages_and_turns(kinds: list[str], look: BookLook) -> None:
    pages = body_pages(chapters([kinds], title=""), look)
    way = [len(p.parts) for p in pages if p.parts and p.parts[0].sheet == 0]
    costs = [cost(kinds, each, look.two_sided) for each in every_way(kinds, look.two_to_a_page)]
    assert cost(kinds, way, look.two_sided) == min(costs)
