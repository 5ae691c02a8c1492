"""The distinct problems that layouts pose for one tune.

How they are found, and why none is lost, is proven in docs/tuning-search.md ("The exact answer"):

* Only the distance between tune and harp counts, so each distance is taken once.
* Of these only those count on which a layout lacks fewest notes.
* A tune's effort follows from the ways of its own notes (and what their ornaments cost). Two
  layouts, or two distances, that give its notes the same ways are one problem.

Public: `Posed`, `posed`, `lacking`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from reedwright.tab.chain import Chain
from reedwright.tab.ornaments.playable import Demand
from reedwright.tab.ways import MIDI_NOTES
from reedwright.workshop.search.graces import Ornaments, stands_alone
from reedwright.workshop.search.holes import MISSING, Holes

Integers = NDArray[Any]
Floats = NDArray[np.float64]

_SEED = 5  # of the marks below; any will do, as what they say is checked


class Posed(NamedTuple):
    """The problems of one tune.

    `problem`, shape (cases,): the index of each case's problem. `ways`: for each pitch of the
    tune the ways of each problem, shape (states, problems), the places that are left over
    filled with the number of no way. `efforts`: for each ornament that does not stand alone, by
    the pitch of its note, effort at leisure in the same shape.
    """

    problem: Integers
    ways: dict[int, Integers]
    efforts: dict[tuple[int, Demand], Floats]

    @property
    def problems(self) -> int:
        """How many there are."""
        return len(next(iter(self.ways.values()))[0])

    def take(self, which: Integers, most: Mapping[int, int]) -> Posed:
        """Some of the problems, by index. `most`: states to keep, by pitch."""
        return Posed(
            self.problem[:0],
            {midi: ways[: most[midi], which] for midi, ways in self.ways.items()},
            {key: each[: most[key[0]], which] for key, each in self.efforts.items()},
        )


def lacking(chain: Chain, present: NDArray[np.float32], lowest: int, shifts: Integers) -> Integers:
    """How many written notes each layout lacks at each shift, shape (layouts, shifts).

    `present` and `lowest` as in `Holes`. Counted in single precision, which is exact up to 16
    million notes.
    """
    notes = present.shape[1]
    wanted = np.zeros((notes, len(shifts)), np.float32)
    columns = np.arange(len(shifts))
    for unknown in chain.unknowns:
        rows = unknown.midi + shifts - lowest
        inside = (rows >= 0) & (rows < notes)
        wanted[rows[inside], columns[inside]] += 1
    found: Integers = np.rint(len(chain.unknowns) - present @ wanted).astype(np.int32)
    return found


def posed(
    chain: Chain,
    holes: Holes,
    ornaments: Ornaments,
    shifts: Integers,
    cases: Integers,
    merge: bool = True,
) -> Posed:
    """The problems of a tune. `cases`, shape (layouts, shifts): which are to be solved.

    `merge`: whether equal problems become one.
    """
    pitches = sorted({unknown.midi for unknown in chain.unknowns})
    layout, at = np.nonzero(cases)
    used, at = np.unique(at, return_inverse=True)
    moved = shifts[used]
    sounded = _sounded(holes, pitches, moved)
    kinds = _kinds(sounded)
    states = holes.states[layout]
    rows = kinds[at[:, None], states]
    asked = _Asked(chain, pitches)
    efforts = []
    if asked.demands:
        slots = sounded[at[:, None], states].reshape(len(layout), -1)
        efforts = [
            _efforts(holes, ornaments, demand, slots == number, states, moved[at])
            for demand, number in asked.demands
        ]
    first = problem = np.arange(len(layout))
    if merge:
        first, problem = _alike(rows, [each.dense for each in efforts])
    # From here on one row for each problem.
    slots = sounded[at[first, None], states[first]].reshape(len(first), -1)
    ways: dict[int, Integers] = {}
    effort_of = {}
    for number, midi in enumerate(pitches, start=1):
        case, column = np.nonzero(slots == number)
        state = _counted(case, len(slots))
        most = 1 + int(state.max(initial=0))
        table = np.full((most, len(slots)), len(holes.ways.hole), np.int16)
        table[0] = MISSING
        table[state, case] = holes.way_of.ravel()[column]
        ways[midi] = table
        for (demand, its), each in zip(asked.demands, efforts, strict=True):
            if its == number:
                found = np.zeros(table.shape)
                found[state, case] = each.dense[first[case], np.searchsorted(each.columns, column)]
                effort_of[midi, demand] = found
    return Posed(problem, ways, effort_of)


class _Asked:
    """The ornaments that do not stand alone, each with the number of its note's pitch."""

    def __init__(self, chain: Chain, pitches: list[int]) -> None:
        each = {
            (demand, 1 + pitches.index(chain.unknowns[i].midi)): None
            for i, _, demand in chain.ornaments
            if not stands_alone(demand)
        }
        self.demands: tuple[tuple[Demand, int], ...] = tuple(each)


class _Efforts(NamedTuple):
    """Of one ornament: effort by case and column; the columns are places of `holes` and slots."""

    dense: Floats
    columns: Integers


def _efforts(
    holes: Holes,
    ornaments: Ornaments,
    demand: Demand,
    there: NDArray[np.bool_],
    states: Integers,
    moved: Integers,
) -> _Efforts:
    """What an ornament costs on the ways of its note. `there`, shape (cases, holes x slots)."""
    (columns,) = np.nonzero(there.any(axis=0))
    case, at = np.nonzero(there[:, columns])
    way = holes.way_of.ravel()[columns[at]]
    dense = np.zeros((len(there), len(columns)))
    dense[case, at] = ornaments.efforts(demand, states[case], moved[case], way)
    return _Efforts(dense, columns)


def _sounded(holes: Holes, pitches: list[int], shifts: Integers) -> Integers:
    """Which pitch of the tune (from 1; 0 for none) each slot of each state of a hole sounds.

    Shape (shifts, states, slots).
    """
    reach = int(np.abs(shifts).max()) + 1
    number = np.zeros(MIDI_NOTES + 2 * reach, np.int16)
    for at, midi in enumerate(pitches, start=1):
        number[midi + reach] = at
    found: Integers = number[holes.midi[None] - shifts[:, None, None] + reach]
    found[:, holes.midi < 0] = 0
    return found


def _kinds(sounded: Integers) -> Integers:
    """The states of holes by what they give this tune, shape (shifts, states): of one hole, equal
    numbers stand for equal ways of equal pitches."""
    shifts, states, slots = sounded.shape
    _, kind = _alike(sounded.reshape(-1, slots), [])
    return kind.reshape(shifts, states)


def _alike(rows: Integers, efforts: list[Floats]) -> tuple[Integers, Integers]:
    """The first of each kind of row, and for every row which kind it is.

    Rows are sorted by a mark, a sum of random numbers, and then compared number by number: should
    two kinds ever have one mark, other random numbers are taken.
    """
    parts = [rows, *(each.view(np.uint64) for each in efforts)]
    seed = _SEED
    while True:
        random = np.random.default_rng(seed)
        mark = np.zeros(len(rows), np.uint64)
        for part in parts:
            factors = random.integers(1 << 63, size=part.shape[1], dtype=np.uint64)
            mark += part.astype(np.uint64) @ factors
        _, first, kind = np.unique(mark, return_index=True, return_inverse=True)
        if all(np.array_equal(part, part[first][kind]) for part in parts):
            return first, kind
        seed += 1


def _counted(case: Integers, cases: int) -> Integers:
    """For sorted numbers: how many equal ones stand before each."""
    often = np.bincount(case, minlength=cases)
    starts = np.cumsum(often) - often
    found: Integers = np.arange(len(case)) - starts[case]
    return found
