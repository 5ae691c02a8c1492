"""Three and more changed reeds, where not all layouts can be tried: a beam, and then swaps.

From the best layouts with one reed fewer (by effort, and by tunes with no bends) every further
change is tried. Then in the best of those so found each change in turn is replaced by every other
change, until none of the best gets better. Every effort is exact; what is not proven is that
no other layout is better. How often it was the best, where that can be known, is measured in
benchmarks/tuning_search.py.

Public: `extended`, `BEAM`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from reedwright.workshop.search.choosing import Scores, by_effort, by_plain, joined
from reedwright.workshop.search.layouts import changes_of, free_reeds
from reedwright.workshop.search.model import Change, Layout, SearchWishes

BEAM = 24
"""Layouts that are gone on from, by effort; half as many more by tunes with no bends."""

SWAPPED = 3
"""Of the best by effort, and by tunes with no bends, so many have their changes replaced."""

MOST_ROUNDS = 6
"""Of swaps. More were never seen to be needed; each costs some hundred layouts."""

Judge = Callable[[Sequence[Layout]], Scores]
"""Works out layouts, and gives their scores in the same order."""


def extended(
    wishes: SearchWishes,
    scores: Scores,
    reeds: int,
    judge: Judge,
    seeds: Sequence[Layout] = (),
    beam: int = BEAM,
) -> Scores:
    """`scores` and those of all layouts of `reeds` changes that were tried.

    Layouts with one change fewer must be among `scores`. `seeds`: further layouts of `reeds`
    changes that are worth a try.
    """
    every = [change for reed in free_reeds(wishes) for change in changes_of(wishes, reed)]
    starts = _leaders(scores, reeds - 1, beam, beam // 2)
    tried = {layout for layout in scores.layouts if len(layout) == reeds}

    def tried_too(found: Scores, layouts: Iterable[Layout]) -> Scores:
        new = sorted(set(layouts) - tried)
        tried.update(new)
        return joined([found, judge(new)]) if new else found

    grown = (_with(start, change) for start in starts for change in every)
    found = tried_too(scores, [*seeds, *(layout for layout in grown if len(layout) == reeds)])
    swapped: set[Layout] = set()
    for _ in range(MOST_ROUNDS):
        leaders = [each for each in _leaders(found, reeds, SWAPPED, SWAPPED) if each not in swapped]
        if not leaders:
            break
        swapped.update(leaders)
        found = tried_too(
            found,
            (
                other
                for leader in leaders
                for left in range(reeds)
                for change in every
                if len(other := _with(leader[:left] + leader[left + 1 :], change)) == reeds
            ),
        )
    return found


def _leaders(scores: Scores, reeds: int, efforts: int, plains: int) -> list[Layout]:
    """The best by effort, then those by tunes with no bends that are not among them."""
    chosen = [*by_effort(scores, reeds)[:efforts], *by_plain(scores, reeds)[:plains]]
    return list(dict.fromkeys(scores.layouts[index] for index in chosen))


def _with(layout: Layout, change: Change) -> Layout:
    """The layout with one change more, in order; as it was where that reed is changed already."""
    if any(reed == change.reed for reed, _ in layout):
        return layout
    return tuple(sorted((*layout, change), key=_place))


def _place(change: Change) -> tuple[int, bool]:
    return change.reed.hole, change.reed.breath.value == "draw"
