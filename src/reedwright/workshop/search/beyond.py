"""Three and more changed reeds, where not all layouts can be tried: a beam, and then swaps.

From the best layouts with one reed fewer (by effort, and by tunes with no bends) every further
change is tried; from the best with two fewer, the pairs that are best besides them: some reeds are
worth changing only together, as both of one hole. Then in the best of those so found each
change, and each two, are replaced by others, until none of the best gets better. Every effort is
exact; what is not proven is that no other layout is better. How often it was the best, where
that can be known, is measured in benchmarks/tuning_beam.py.

Public: `extended`, `BEAM`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import combinations, islice

from reedwright.harp.model import Breath
from reedwright.workshop.search.choosing import Scores, by_effort, by_plain, earning, joined
from reedwright.workshop.search.layouts import changes_of, free_reeds
from reedwright.workshop.search.model import Change, Layout, SearchWishes

BEAM = 24
"""Layouts that are gone on from, by effort; half as many more by tunes with no bends."""

PAIRS = 150
"""Pairs that are tried on each layout with two reeds fewer, of `BEAM_BY_TWO` and half as many."""

BEAM_BY_TWO = 8

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
    tried = {layout for layout in scores.layouts if len(layout) == reeds}
    pairs = _pairs(scores) if reeds > _PAIR else []

    def tried_too(found: Scores, layouts: Iterable[Layout]) -> Scores:
        new = sorted({each for each in layouts if len(each) == reeds} - tried)
        tried.update(new)
        return joined([found, judge(new)]) if new else found

    by_one = _leaders(scores, reeds - 1, beam, beam // 2)
    by_two = _leaders(scores, reeds - _PAIR, BEAM_BY_TWO, BEAM_BY_TWO // 2) if pairs else []
    found = tried_too(
        scores,
        [
            *seeds,
            *(_with(start, (change,)) for start in by_one for change in every),
            *(_with(start, pair) for start in by_two for pair in _beside(start, pairs)),
        ],
    )
    swapped: set[Layout] = set()
    for _ in range(MOST_ROUNDS):
        leaders = [each for each in _leaders(found, reeds, SWAPPED, SWAPPED) if each not in swapped]
        if not leaders:
            break
        swapped.update(leaders)
        found = tried_too(found, _swaps(leaders, every, pairs))
    return found


_PAIR = 2


def _swaps(
    leaders: Iterable[Layout], every: Sequence[Change], pairs: Sequence[Layout]
) -> Iterator[Layout]:
    """Each change of a layout replaced by every other, and each two by the best pairs."""
    for leader in leaders:
        for left in combinations(leader, len(leader) - 1):
            yield from (_with(left, (change,)) for change in every)
        for left in combinations(leader, len(leader) - _PAIR) if pairs else ():
            yield from (_with(left, pair) for pair in _beside(left, pairs))


def _pairs(scores: Scores) -> list[Layout]:
    """The pairs in which neither change is one too many, easiest first."""
    order = by_effort(scores, _PAIR)
    return [scores.layouts[index] for index in order[earning(scores, order)]]


def _beside(layout: Layout, pairs: Iterable[Layout]) -> Iterator[Layout]:
    """The first pairs that share no reed with a layout."""
    reeds = {reed for reed, _ in layout}
    return islice((pair for pair in pairs if not any(reed in reeds for reed, _ in pair)), PAIRS)


def _leaders(scores: Scores, reeds: int, efforts: int, plains: int) -> list[Layout]:
    """The best by effort, then those by tunes with no bends that are not among them.

    Those with a change too many come last: they are others in disguise, and would crowd them out.
    """
    chosen: list[int] = []
    for order, most in ((by_effort(scores, reeds), efforts), (by_plain(scores, reeds), plains)):
        worth = earning(scores, order)
        chosen += [*order[worth], *order[~worth]][:most]
    return list(dict.fromkeys(scores.layouts[index] for index in chosen))


def _with(layout: Layout, changes: Iterable[Change]) -> Layout:
    """The layout with further changes, in order; none for a reed that is changed already."""
    reeds = {reed for reed, _ in layout}
    more = (change for change in changes if change.reed not in reeds)
    return tuple(sorted((*layout, *more), key=_place))


def _place(change: Change) -> tuple[int, bool]:
    return change.reed.hole, change.reed.breath is Breath.DRAW
