"""All that is known before sets are made: each tune on each harp that it may be played on, what
follows what, and the player's rules about single tunes.

Public: `Stage`, `staged`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from reedwright.tab.sets.efforts import EffortTable
from reedwright.tab.sets.fewest import harps_for
from reedwright.tab.sets.joins import Place, join_cost
from reedwright.tab.sets.naming import named_tune, named_tunes
from reedwright.tab.sets.paths import cheapest_order
from reedwright.tab.sets.rules import SetRules
from reedwright.tab.sets.setmaking import Nodes
from reedwright.tab.sets.stepping import Bench, bench_of
from reedwright.tab.sets.traits import Traits, traits_of
from reedwright.tab.sets.wishes import Allowed, HarpWishes, Limit, SetsError, allowed, is_odd
from reedwright.tab.words import moved_words
from reedwright.tune.model import Tune

MOST_HARPS = 6
"""Harps of an evening where the rules do not say; as many as lie on a chair."""


@dataclass(frozen=True, slots=True, eq=False)
class Stage:
    """`groups`: each tune's nodes; `moves`: octaves and semitones of each node. `kept`: sets that
    stay as they are; `wanted`: tunes that must be played; `first`, `last`: tunes, -1 for none;
    `chosen`: places of the harps chosen for the evening, None where all may be taken."""

    table: EffortTable
    within: Allowed
    rules: SetRules
    bench: Bench
    groups: tuple[tuple[int, ...], ...]
    moves: tuple[tuple[int, int], ...]
    kept: tuple[Nodes, ...]
    wanted: frozenset[int]
    apart: frozenset[tuple[int, int]]
    first: int
    last: int
    chosen: tuple[int, ...] | None

    def opens(self, node: int) -> str:
        """Words for the tune that begins a set: its key, harp and move."""
        tune = self.table.tunes[int(self.bench.tune[node])]
        moved = moved_words(*self.moves[node])
        key = "" if tune.key.mode == "none" else f"in {tune.key.name} "
        return f"{key}on the {self.bench.places[node].harp.name}" + (f", {moved}" if moved else "")


def staged(
    table: EffortTable,
    limit: Limit,
    rules: SetRules,
    wishes: HarpWishes | None = None,
    usual_harps: int = MOST_HARPS,
) -> Stage:
    """The stage for these tunes, on the harps wished for; on `usual_harps` of them at most, where
    the rules do not say how many.

    Raises `SetsError` where a rule names a tune that is not there, or where the rules contradict
    each other.
    """
    chosen = None
    wished = wishes or HarpWishes()
    takes = np.array([wished.takes(harp) for harp in table.harps], bool)
    within = allowed(table, limit, takes)
    harps: Sequence[int] = [int(at) for at in np.flatnonzero(takes)]
    most = min(rules.most_harps or usual_harps, len(harps) if wished.most is None else wished.most)
    odd = sum(is_odd(table.harps[at]) for at in harps)
    if len(harps) > most or (wished.most_odd is not None and odd > wished.most_odd):
        chosen = harps = harps_for(table, limit, replace(wished, most=most))
    places: list[Place] = []
    tune_of: list[int] = []
    moves: list[tuple[int, int]] = []
    groups: list[tuple[int, ...]] = []
    for tune in range(len(table.tunes)):
        traits = traits_of(table.tunes[tune])
        here = [] if traits is None else [h for h in harps if within.can[tune, h]]
        groups.append(tuple(range(len(places), len(places) + len(here))))
        for harp in here:
            assert traits is not None
            move = table.moves[int(within.move[tune, harp])]
            places.append(_place(table, within, tune, harp, traits))
            tune_of.append(tune)
            moves.append(move)
    if not places:
        raise SetsError(
            "None of the tunes can be played on these harps within the limit. Name other harps or "
            "allow more effort."
        )
    bench = bench_of(places, tune_of, rules)
    names = _Names(table, rules, groups)
    names.lay_down(bench)
    return Stage(
        table,
        within,
        rules,
        bench,
        tuple(groups),
        tuple(moves),
        names.keep(bench),
        names.wanted,
        names.apart,
        names.first,
        names.last,
        None if chosen is None else tuple(chosen),
    )


def _place(table: EffortTable, within: Allowed, tune: int, harp: int, traits: Traits) -> Place:
    move = int(within.move[tune, harp])
    octaves, semitones = table.moves[move]
    effort = float(table.per_note[tune, harp, move])
    work = effort * traits.notes / traits.seconds if traits.seconds > 0 else 0.0
    return Place(traits, table.harps[harp], 12 * octaves + semitones, effort, work)


class _Names:
    """The rules that name tunes, with the tunes found."""

    def __init__(
        self, table: EffortTable, rules: SetRules, groups: Sequence[tuple[int, ...]]
    ) -> None:
        tunes = table.tunes
        self._table, self._rules, self._groups = table, rules, groups
        self._kept = [named_tunes(tunes, names) for names in rules.keep]
        self._follow = [_two(tunes, pair) for pair in rules.follow]
        self.apart = frozenset(_two(tunes, pair) for pair in rules.apart)
        self.first = named_tune(tunes, rules.first) if rules.first else -1
        self.last = named_tune(tunes, rules.last) if rules.last else -1
        inside = [tune for kept in self._kept for tune in kept]
        self._check(inside)
        ends = {tune for tune in (self.first, self.last) if tune >= 0}
        pairs = {tune for pair in self._follow for tune in pair}
        self.wanted = frozenset(ends | pairs | set(inside))
        for tune in sorted(self.wanted):
            if not groups[tune]:
                raise SetsError(
                    f"{tunes[tune].title} is named in the rules, but cannot be played on these "
                    "harps within the limit."
                )

    def _check(self, inside: Sequence[int]) -> None:
        """Raises `SetsError` where rules contradict each other."""
        for tune in inside:
            if inside.count(tune) > 1:
                raise self._wrong("{} stands twice in the sets to keep.", tune)
        for one, two in self.apart:
            if any(one in kept and two in kept for kept in self._kept):
                raise self._wrong("{} and {} stand in a set to keep and apart.", one, two)
        self._check_followers()
        for end, place, word in ((self.first, 0, "first"), (self.last, -1, "last")):
            if any(end in kept and kept[place] != end for kept in self._kept):
                raise self._wrong(f"{{}} cannot be {word}: a set to keep has it elsewhere.", end)

    def _check_followers(self) -> None:
        pairs = set(self._follow)
        after, before = dict(pairs), {two: one for one, two in pairs}
        for one, two in self._follow:
            if after[one] != two:
                raise self._wrong("{} is followed by two tunes; drop a rule.", one)
            if before[two] != one:
                raise self._wrong("{} follows two tunes; drop a rule.", two)
            at = two
            for _ in pairs:
                at = after.get(at, -1) if at != one else one
            if at == one or {(one, two), (two, one)} & self.apart:
                raise self._wrong("{1} is to follow {0} and cannot; drop a rule.", one, two)
            for kept in self._kept:
                if {one, two} & set(kept) and (one, two) not in pairwise(kept):
                    raise self._wrong(
                        "{1} is to follow {0}, but a set to keep forbids it.", one, two
                    )
        if self.last in after:
            raise self._wrong("{} cannot be last: {} is to follow it.", self.last, after[self.last])
        if self.first in before:
            raise self._wrong(
                "{} cannot be first: it is to follow {}.", self.first, before[self.first]
            )

    def _wrong(self, words: str, *tunes: int) -> SetsError:
        return SetsError(words.format(*(self._table.tunes[tune].title for tune in tunes)))

    def lay_down(self, bench: Bench) -> None:
        """Puts what the rules forbid into the bench."""
        tune = bench.tune
        for one, two in self.apart:
            a, b = tune == one, tune == two
            bench.step[np.ix_(a, b)] = np.inf
            bench.step[np.ix_(b, a)] = np.inf
        for one, two in self._follow:
            a, b = tune == one, tune == two
            bench.step[np.ix_(a, ~b)] = np.inf
            bench.step[np.ix_(~a, b)] = np.inf
            bench.ends[a] = False
            bench.begins[b] = False
            for x in np.flatnonzero(a):
                for y in np.flatnonzero(b):  # whatever their types
                    bench.step[x, y] = join_cost(bench.places[x], bench.places[y], self._rules)
        for end, step_in in ((self.first, True), (self.last, False)):
            if end < 0:
                continue
            nodes = tune == end
            if step_in:
                bench.step[:, nodes] = np.inf
            else:
                bench.step[nodes, :] = np.inf

    def keep(self, bench: Bench) -> tuple[Nodes, ...]:
        """The sets that stay, each tune on the best harp; their tunes go into no other set."""
        found = []
        for kept in self._kept:
            groups = [self._groups[tune] for tune in kept]
            step = np.full_like(bench.step, np.inf)
            for before, after in pairwise(groups):
                for x in before:
                    for y in after:
                        step[x, y] = join_cost(bench.places[x], bench.places[y], self._rules)
            order = cheapest_order(groups, bench.own, step)
            if order is None:
                raise SetsError("A set to keep has too many tunes or none.")
            nodes = [node for group in groups for node in group]
            bench.step[nodes, :] = np.inf
            bench.step[:, nodes] = np.inf
            bench.begins[nodes] = False
            for x, y in pairwise(order[1]):
                bench.step[x, y] = step[x, y]
            found.append(order[1])
        return tuple(found)


def _two(tunes: Sequence[Tune], names: tuple[str, str]) -> tuple[int, int]:
    one, two = named_tunes(tunes, names)
    return one, two
