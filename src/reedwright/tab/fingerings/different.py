"""The best different fingerings of some bars or of a whole tune.

Of some bars: every difference within them counts, and the rest of the tune follows at
least effort. The answer is exact (`kbest`).

Of a whole tune: five tabs that differ in one note each would be no choice. Each one therefore
differs from every one above it in at least `apart` notes as played. The tabs are gone
through in order of effort (exact) as far as `MOST_ENUMERATED`. If more are wanted, a search
goes on that charges for being alike, with many charges at once: what it finds is the best
found, and beside it stands by how much the true one could be easier at most (the bound of
Lagrange multipliers, H. Everett, Operations Research 11, 1963, from memory).

Public: `best_fingerings`, `Fingerings`, `Fingering`, `Difference`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reedwright.harp.model import Sounding
from reedwright.tab.arrange import Posed, posed_again
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.effort import SCALE
from reedwright.tab.fingerings.effortwords import difference_words
from reedwright.tab.fingerings.kbest import States, in_order, repeated
from reedwright.tab.solver import Problems, solve
from reedwright.tab.wishes import Wishes
from reedwright.tune.model import Bar

USUAL = 5
"""How many fingerings are given unless another number is asked for."""

MOST_ENUMERATED = 30
"""Tabs of a whole tune that are gone through one by one before the search (about 0.3 s)."""

NOTES_FOR_EACH_APART = 32
"""Of so many notes as played one must differ: about one a line. Our own choice."""

RATES = 96
ROUNDS = 6
KEPT = 8
"""Of the search: rates tried at once, how often, and how many of the best are gone on from."""

SEARCHES_FOR_EACH = 2
"""Searches for each fingering that is asked for, at most."""


class Difference(NamedTuple):
    """Notes of one pitch that are played one way instead of another, and in which bars."""

    pitch: str
    instead_of: Sounding | None
    way: Sounding | None
    bars: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Fingering:
    """One way to play it all. `more` is effort beyond the least; `soundings` by id of note.

    `differences` and `costs` (in words) are against the first. `proven`: no easier one was
    passed over; else `at_most` says how much easier the true one could be.
    """

    effort: float
    more: float
    soundings: Mapping[str, Sounding]
    differences: tuple[Difference, ...]
    costs: tuple[str, ...]
    notes_different: int
    proven: bool
    at_most: float


@dataclass(frozen=True, slots=True)
class Fingerings:
    """The fingerings found, least effort first. Fewer than `asked` where there are no more.

    `bars` are printed numbers, empty for the whole tune. `apart`: in how many notes as played
    each differs from every one above it. `all_there_are`: there are certainly no more.
    """

    found: tuple[Fingering, ...]
    asked: int
    bars: tuple[int, ...]
    apart: int
    all_there_are: bool


def best_fingerings(
    arrangement: Arrangement,
    k: int = USUAL,
    bars: Collection[int] = (),
    apart: int | None = None,
    wishes: Wishes | None = None,
) -> Fingerings:
    """The `k` best different fingerings of an arrangement, of some bars (printed numbers) or all.

    `wishes`: what is pinned stays so; without them those of the arrangement hold. `apart` is for
    the whole tune; without it, it grows with the tune, and gets less where too few tabs are so
    far apart. Effort is that of the fingering with written and wished ornaments; what
    the arrangement has by suggestion is not in it.
    """
    problem = posed_again(arrangement, wishes)
    written = arrangement.plain.voices[arrangement.voice].bars
    counts = _counts(problem)
    wanted = tuple(sorted(set(bars)))
    if wanted:
        within = _within(problem, written, wanted)
        apart = 1
        solved = [_Solved(*each, None) for each in in_order(problem.problems, within, k + 1)]
        all_there_are = len(solved) <= k
        solved = solved[:k]
    else:
        within = list(range(len(problem.chain.unknowns)))
        usual = max(1, round(problem.chain.played / NOTES_FOR_EACH_APART))
        solved, all_there_are, apart = _far_apart(
            problem.problems, counts, k, apart or usual, may_be_nearer=apart is None
        )
    return Fingerings(
        tuple(_fingerings(problem, solved, written, within, counts)),
        k,
        wanted,
        apart,
        all_there_are,
    )


class _Solved(NamedTuple):
    cost: int
    states: States
    bound: int | None  # None: proven


def _counts(problem: Posed) -> NDArray[np.int64]:
    """How often each unknown is sounded."""
    counts = np.zeros(len(problem.chain.unknowns), np.int64)
    for (i, _), times in problem.chain.lengths.items():
        counts[i] += times
    return counts


def _within(problem: Posed, bars: Sequence[Bar], wanted: Collection[int]) -> list[int]:
    """The unknowns that begin in these bars."""
    ids = {note.id for bar in bars if bar.number in wanted for note in bar.notes}
    return [i for i, unknown in enumerate(problem.chain.unknowns) if unknown.ids[0] in ids]


def _far_apart(
    problems: Problems, counts: NDArray[np.int64], k: int, apart: int, may_be_nearer: bool
) -> tuple[list[_Solved], bool, int]:
    """Tabs that far apart, whether there are no more, and how far apart they are in the end.

    `may_be_nearer`: where there are fewer than `k`, half as far will do, down to one note.
    """
    first = list(islice(in_order(problems), MOST_ENUMERATED))
    complete = len(first) < MOST_ENUMERATED
    while True:
        found, all_there_are = _that_far_apart(problems, counts, k, apart, first, complete)
        if len(found) >= k or apart == 1 or not may_be_nearer:
            return found, all_there_are, apart
        apart //= 2


def _that_far_apart(
    problems: Problems,
    counts: NDArray[np.int64],
    k: int,
    apart: int,
    first: Sequence[tuple[int, States]],
    complete: bool,
) -> tuple[list[_Solved], bool]:
    """`first`: the least tabs of all in order; `complete`: there are no others."""
    search = _Search(problems, counts, apart)
    search.seen.update((states, cost) for cost, states in first)
    taken: list[_Solved] = []
    for cost, states in first:
        if search.far(states, [each.states for each in taken]):
            taken.append(_Solved(cost, states, None))
            if len(taken) == k:
                return taken, False
    if complete:
        return taken, True
    last = first[-1][0]
    for _ in range(SEARCHES_FOR_EACH * k):
        if len(taken) == k:
            break
        found = search.next([each.states for each in taken])
        if found is None:
            break
        bound = max(found.bound or 0, last)
        # An easier one than was found before: that one was not the least, and gives place.
        place = next((at for at, each in enumerate(taken) if found[:2] < each[:2]), len(taken))
        if place < len(taken):
            bound = min(bound, taken[place].bound or 0)
            del taken[place:]
        taken.append(found._replace(bound=None if bound >= found.cost else bound))
    return taken, False


class _Search:
    """Tabs far enough from others, by charging notes for being alike (see above)."""

    def __init__(self, problems: Problems, counts: NDArray[np.int64], apart: int) -> None:
        self.problems = problems
        self.counts = counts
        self.apart = apart
        self.seen: dict[States, int] = {}
        """Every tab come across, with its cost: one may serve where it was not looked for."""

    def next(self, taken: Sequence[States]) -> _Solved | None:
        """The least tab found that is far enough from all that are taken, with a bound.

        Each note as played is charged for being as in a tab that is taken, for each of those
        by a rate of its own. Many rates are tried at once, first far and wide, then around the
        best.
        """
        chance = np.random.default_rng(0)  # the same each time
        easiest = sum(int(table[:, 0].min()) for table in self.problems.single)
        steps = np.geomspace(1, easiest + 64 * SCALE, RATES)
        rates = steps * chance.uniform(0, 1, (len(taken), RATES)) ** 2
        rates[:, ::2] = steps[::2]  # every second one charges all alike
        bound = 0
        for _ in range(ROUNDS):
            whole = np.rint(rates).astype(np.int64)
            good: list[tuple[int, int]] = []
            for p, (cost, states, total) in enumerate(self._charged(taken, whole)):
                may_be_alike = int(self.counts.sum()) - self.apart
                bound = max(bound, total - int(whole[:, p].sum()) * may_be_alike)
                self.seen[states] = cost
                if self.far(states, taken):
                    good.append((cost, p))
            if not good:
                rates = rates * 4.0
                continue
            around = [p for _, p in sorted(good)[:KEPT]]
            middle = rates[:, np.resize(around, RATES)]
            # Downwards more than upwards: a lower charge that is enough gives a better tab.
            rates = middle * np.exp(chance.normal(-0.2, 0.5, middle.shape))
        far = [(cost, states) for states, cost in self.seen.items() if self.far(states, taken)]
        return _Solved(*min(far), bound) if far else None

    def far(self, states: States, taken: Sequence[States]) -> bool:
        return all(_distance(states, each, self.counts) >= self.apart for each in taken)

    def _charged(
        self, taken: Sequence[States], rates: NDArray[np.int64]
    ) -> list[tuple[int, States, int]]:
        """For each column of rates the least tab: its own cost, its states, with charges."""
        batch, single = repeated(self.problems, rates.shape[1])
        for states, rate in zip(taken, rates, strict=True):
            for i, state in enumerate(states):
                single[i][state] += rate * self.counts[i]
        totals, answers = solve(batch)
        found = []
        for p, (total, column) in enumerate(zip(totals.tolist(), answers.T.tolist(), strict=True)):
            states = tuple(column)
            charged = 0
            for each, rate in zip(taken, rates[:, p].tolist(), strict=True):
                charged += rate * (int(self.counts.sum()) - _distance(states, each, self.counts))
            found.append((total - charged, states, total))
        return found


def _distance(one: States, two: States, counts: NDArray[np.int64]) -> int:
    """In how many notes as played two tabs differ."""
    return int(counts[np.not_equal(one, two)].sum())


def _fingerings(
    problem: Posed,
    solved: Sequence[_Solved],
    bars: Sequence[Bar],
    within: Sequence[int],
    counts: NDArray[np.int64],
) -> list[Fingering]:
    if not solved:
        return []
    first = problem.chosen(solved[0].states)
    least = problem.effort_items(first)
    where = {note.id: bar.number for bar in bars for note in bar.notes}
    names = {note.id: note.pitch.name for bar in bars for note in bar.notes}
    found = []
    for cost, states, bound in solved:
        chosen = problem.chosen(states)
        groups: dict[tuple[str, Sounding | None, Sounding | None], set[int]] = {}
        for i in within:
            if states[i] != solved[0].states[i]:
                id_ = problem.chain.unknowns[i].ids[0]
                groups.setdefault((names[id_], first[i], chosen[i]), set()).add(where[id_])
        found.append(
            Fingering(
                effort=cost / SCALE,
                more=(cost - solved[0].cost) / SCALE,
                soundings={
                    id_: way
                    for unknown, way in zip(problem.chain.unknowns, chosen, strict=True)
                    if way is not None
                    for id_ in unknown.ids
                },
                differences=tuple(
                    Difference(*key, tuple(sorted(numbers))) for key, numbers in groups.items()
                ),
                costs=difference_words(least, problem.effort_items(chosen)),
                notes_different=_distance(states, solved[0].states, counts),
                proven=bound is None,
                at_most=0.0 if bound is None else (cost - bound) / SCALE,
            )
        )
    return found
