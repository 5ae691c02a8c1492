"""Three reeds and more: the beam against all triples, the bounds against what layouts do."""

from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Breath, Reed
from reedwright.harp.tunings import find_tuning
from reedwright.player.loading import load_profile
from reedwright.tab.costs import problems_of
from reedwright.tab.solver import solve as solve_costs
from reedwright.tune.abc import read_abc
from reedwright.tune.reading import read_tunes
from reedwright.workshop.search import bounds
from reedwright.workshop.search.beyond import extended
from reedwright.workshop.search.bounds import least_effort
from reedwright.workshop.search.choosing import Scores, by_effort, scores_of
from reedwright.workshop.search.engine import prepare, solve, usage
from reedwright.workshop.search.layouts import all_layouts
from reedwright.workshop.search.model import Change, SearchWishes
from reedwright.workshop.search.plainness import plainest
from reedwright.workshop.search.survey import survey

EXAMPLES = Path(__file__).resolve().parents[2] / "examples" / "tunes.abc"
EVERY = frozenset(Reed(hole, breath) for hole in range(1, 11) for breath in Breath)
# Six reeds, a semitone or two: 240 pairs and 1,280 triples.
FREE = frozenset(Reed(hole, breath) for hole in (2, 3, 7) for breath in Breath)


@pytest.fixture(scope="module", params=["first-year", "player"])
def problem(request):
    tunes = list(read_tunes(EXAMPLES))[:4]
    wishes = SearchWishes(find_tuning("richter"), reeds=3, keys=("G", "D"), frozen=EVERY - FREE)
    return prepare(tunes, load_profile(request.param), wishes)


@pytest.fixture(scope="module")
def exact(problem):
    """Every layout of up to three of the free reeds."""
    layouts = all_layouts(replace(problem.wishes, reeds=3))
    return scores_of(solve(problem, layouts, workers=1), layouts, usage(problem))


def judge(exact, tried=None):
    """What was worked out already, looked up."""
    place = {layout: index for index, layout in enumerate(exact.layouts)}

    def looked_up(layouts):
        if tried is not None:
            tried.extend(layouts)
        index = [place[layout] for layout in layouts]
        return replace(
            exact,
            layouts=tuple(layouts),
            reeds=exact.reeds[index],
            plain=exact.plain[index],
            playable=exact.playable[index],
            effort=exact.effort[index],
            relearned=exact.relearned[index],
            semitones=exact.semitones[index],
            tunes=exact.tunes[:, index],
        )

    return looked_up


def test_the_beam_finds_the_best_of_all_triples_of_a_few_reeds(problem, exact) -> None:
    tried: list = []
    known = judge(exact)([layout for layout in exact.layouts if len(layout) <= 2])
    found = extended(problem.wishes, known, 3, judge(exact, tried))
    best, truly = by_effort(found, 3)[0], by_effort(exact, 3)[0]
    assert found.effort[best] == exact.effort[truly]
    assert len(tried) == len(set(tried)), "no layout is worked out twice"
    assert len(tried) < np.count_nonzero(exact.reeds == 3)
    for layout in tried:
        assert len(layout) == len({reed for reed, _ in layout}) == 3
        assert all(reed in FREE and by for reed, by in layout)
    assert found.layouts[: len(known.layouts)] == known.layouts


def test_the_beam_limited_to_two_finds_the_best_pair(problem, exact) -> None:
    known = judge(exact)([layout for layout in exact.layouts if len(layout) <= 1])
    found = extended(problem.wishes, known, 2, judge(exact))
    assert found.effort[by_effort(found, 2)[0]] == exact.effort[by_effort(exact, 2)[0]]


def test_two_reeds_that_help_only_together_are_found() -> None:
    """Either reed of hole 7 alone spoils every tune; exchanged, and beside a raised 3 blow, they
    help. A hundred pairs look better, so adding one reed at a time would never come to them."""
    wishes = SearchWishes(find_tuning("richter"), reeds=4)
    raised = Change(Reed(3, Breath.BLOW), 2)
    together = {Change(Reed(7, Breath.BLOW), -1), Change(Reed(7, Breath.DRAW), 1)}

    def judged(layouts):
        effort = []
        for layout in layouts:
            changed = set(layout)
            gain = sum(0.01 + 0.0001 * by for (hole, _), by in changed if hole in (1, 2))
            gain += 0.2 * (raised in changed)
            if together <= changed:
                gain += 0.3 if raised in changed else -0.05
            else:
                gain -= sum(3.0 for reed, _ in changed if reed.hole == 7)
            effort.append(10.0 - gain - sum(-0.001 for reed, _ in changed if reed.hole > 3))
        shape = len(layouts)
        return Scores(
            tuple(layouts),
            np.array([len(layout) for layout in layouts]),
            np.zeros(shape, int),
            np.zeros(shape, int),
            np.array(effort),
            np.zeros(shape),
            np.zeros(shape, int),
            np.zeros((1, shape), bool),
        )

    scores = judged(all_layouts(replace(wishes, reeds=2)))
    for reeds in (3, 4):
        scores = extended(wishes, scores, reeds, judged)
        assert together <= set(scores.layouts[by_effort(scores, reeds)[0]])


def test_the_bound_worked_out_by_hand() -> None:
    """2 blow of the harp in C is E4 and may become F4: free, hole 2 blow has both notes, and the
    tune is the same reed again and again, four times, at leisure: three times `repeated_note`."""
    (tune,) = read_abc("X:1\nT:Two notes\nM:4/4\nL:1/1\nK:C\nE|F|E|F|\n")
    kept = EVERY - {Reed(2, Breath.BLOW)}
    wishes = SearchWishes(find_tuning("richter"), keys=("C",), octaves=(0,), frozen=kept)
    player = load_profile("first-year")
    problem = prepare([tune], player, wishes)
    assert least_effort(problem, 1) == 3 * player.weights.repeated_note / 4


def test_what_is_left_out_of_the_bound_could_not_change_it(problem) -> None:
    holes = bounds._HoleWays(problem)
    choices = [(2, 3), (2, 7), (3, 7)]
    table = bounds._table(holes, choices, problem.shifts)
    everything = bounds._table(holes, [(2, 3, 7)], problem.shifts)
    for tune in problem.tunes:
        pruned = bounds._least(problem, tune, table, everything, len(choices))
        chain = replace(tune.chain, ornaments=Counter())
        whole, _ = solve_costs(problems_of(chain, table, problem.profile.weights, tune.tempo))
        assert pruned.tolist() == whole.reshape(len(choices), -1).min(axis=1).tolist()


def test_no_layout_goes_beyond_the_bounds(problem, exact) -> None:
    for reeds in (1, 2, 3):
        mine = exact.reeds == reeds
        assert least_effort(problem, reeds) <= exact.effort[mine].min()
        found = plainest(problem, reeds, kept=3)
        # Exact: bits of pitches against the engine's own account.
        assert found is not None and found.most == exact.plain[mine].max()
        place = {layout: index for index, layout in enumerate(exact.layouts)}
        counts = [int(exact.plain[place[layout]]) for layout in found.layouts]
        assert counts == sorted(exact.plain[mine].tolist(), reverse=True)[: len(counts)]


def test_the_bound_of_fewer_holes_is_not_lower(problem, monkeypatch) -> None:
    each = [least_effort(problem, reeds) for reeds in (1, 2, 3)]
    assert each == sorted(each, reverse=True)
    monkeypatch.setattr("reedwright.workshop.search.bounds.MOST_CHOICES", 0)
    assert least_effort(problem, 1) == least_effort(problem, 4) <= each[-1]


def test_bounds_hold_where_there_is_a_slide() -> None:
    tunes = list(read_tunes(EXAMPLES))[:3]
    few = [Reed(hole, breath) for hole in (5, 6) for breath in Breath]
    every = {Reed(hole, breath) for hole in range(1, 13) for breath in Breath}
    wishes = SearchWishes(
        find_tuning("slide-solo-12"),
        reeds=2,
        keys=("C", "D"),
        octaves=(-1, 0),
        frozen=frozenset(every - set(few)),
    )
    problem = prepare(tunes, load_profile("player"), wishes)
    layouts = all_layouts(replace(wishes, reeds=2))
    scores = scores_of(solve(problem, layouts, workers=1), layouts, usage(problem))
    for reeds in (1, 2):
        mine = scores.reeds == reeds
        most = plainest(problem, reeds, 1)
        assert most is not None and most.most == scores.plain[mine].max()
        assert 0 < least_effort(problem, reeds) <= scores.effort[mine].min()


def test_a_search_says_up_to_where_it_is_proven(problem) -> None:
    def solved(layouts, stage):
        return solve(problem, layouts, workers=1)

    titles = [str(number) for number in range(len(problem.tunes))]
    whole = survey(titles, problem, usage(problem), solved)
    assert whole.exact == 3 and not whole.bounds and not whole.plain_bounds
    beamed = survey(titles, problem, usage(problem), solved, most_cells=0)
    assert beamed.exact == 2 and set(beamed.bounds) == set(beamed.plain_bounds) == {3}
    assert beamed.best[2][0].score.effort == whole.best[2][0].score.effort
    assert beamed.plainest[2][0].score.plain == whole.plainest[2][0].score.plain
    assert beamed.best[:2] == whole.best[:2]
    assert beamed.layouts < whole.layouts
    # Asked for, it is tried all the same.
    assert survey(titles, problem, usage(problem), solved, exact=3, most_cells=0).exact == 3


def test_pieces_make_the_same_search(problem, monkeypatch) -> None:
    stages = []

    def solved(layouts, stage):
        stages.append(stage)
        return solve(problem, layouts, workers=1)

    titles = [str(number) for number in range(len(problem.tunes))]
    wishes = replace(problem.wishes, reeds=2)
    smaller = replace(problem, wishes=wishes)
    whole = survey(titles, smaller, usage(problem), solved)
    monkeypatch.setattr("reedwright.workshop.search.survey.BLOCK_CELLS", 300)
    pieces = survey(titles, smaller, usage(problem), solved)
    assert len(stages) > 3 and stages[1] == "2 reeds, part 1 of 4"
    assert replace(pieces, seconds=0.0) == replace(whole, seconds=0.0)


def test_where_every_reed_is_kept_there_is_nothing_to_search(problem) -> None:
    kept = replace(problem, wishes=replace(problem.wishes, frozen=EVERY))
    with pytest.raises(ReedwrightError, match="leave some free"):
        survey([], kept, {}, lambda layouts, stage: pytest.fail("nothing to try"))
