"""How many tunes need no bends on each of very many layouts: exact, and without any fingering.

A tune needs no bends where all its pitches are plain notes of the harp. Both are sets of pitches,
so both are bits of a whole number, and millions of pairs are compared in a second. So the most
tunes with no bends are known for certain also where efforts cannot all be worked out.

Public: `Plainest`, `plainest`, `count_layouts`.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations
from math import prod
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reedwright.harp.model import Breath, Reed
from reedwright.workshop.search.layouts import changes_of, free_reeds
from reedwright.workshop.search.model import Layout, SearchWishes
from reedwright.workshop.search.problem import Problem

Masks = NDArray[np.uint64]

MOST_LAYOUTS = 2_000_000
"""Layouts that are tried: all of four reeds by two semitones, in about half a minute."""

_BITS = 64


class Plainest(NamedTuple):
    """The most tunes with no bends that a layout of so many changes has, and layouts that have
    them or come near, best first."""

    most: int
    layouts: tuple[Layout, ...]


def count_layouts(wishes: SearchWishes, reeds: int) -> int:
    """How many layouts there are with exactly so many reeds changed."""
    ways = [len(changes_of(wishes, reed)) for reed in free_reeds(wishes)]
    # The coefficient of x to the power `reeds` in the product of (1 + ways x).
    of_count = [1] + [0] * reeds
    for each in ways:
        for count in range(reeds, 0, -1):
            of_count[count] += of_count[count - 1] * each
    return of_count[reeds]


def plainest(problem: Problem, reeds: int, kept: int) -> Plainest | None:
    """The best of all layouts with exactly so many reeds changed; None where they are too many,
    or lie too far apart for the bits of a number."""
    wishes = problem.wishes
    if count_layouts(wishes, reeds) > MOST_LAYOUTS:
        return None
    every = [Reed(hole, breath) for hole in range(1, wishes.base.holes + 1) for breath in Breath]
    pitches = {reed: _pitches(problem, reed) for reed in every}
    notes = [midi for each in pitches.values() for midi in each]
    lowest = min(notes) - wishes.semitones
    if max(notes) + wishes.semitones - lowest >= _BITS:
        return None
    bits = {reed: [midi - lowest for midi in each] for reed, each in pitches.items()}
    most = reeds * max(len(each) for each in bits.values())
    needs = _needs(problem, most, lowest, _mask(note for each in bits.values() for note in each))
    masks, starts = _masks(wishes, reeds, bits, every)
    sets, of_layout = np.unique(masks, return_inverse=True)
    of_set = np.zeros(len(sets), np.int32)
    for tune in needs:
        fits = np.zeros(len(sets), np.bool_)
        for need in tune:
            fits |= (sets & need) == need
        of_set += fits
    counts = of_set[of_layout]
    # Stable, so that equals stay in the order of the layouts.
    order = np.argsort(-counts, kind="stable")[:kept]
    return Plainest(
        int(counts.max()), tuple(_layout(wishes, starts, int(place)) for place in order)
    )


def _pitches(problem: Problem, reed: Reed) -> list[int]:
    """What a reed sounds on the harp in C: one note, or two where there is a slide."""
    harp = problem.harps(())[0]
    slides = (False, True) if harp.tuning.slide else (False,)
    return [harp.reed_midi(*reed, slide) - harp.transpose for slide in slides]


def _needs(problem: Problem, most: int, lowest: int, today: np.uint64) -> list[Masks]:
    """For each tune that could be had, what it needs on each of the harps that could have it.

    `most`: notes that the changes can add. What lacks more of them today is left out.
    """
    found = []
    for tune in problem.tunes:
        midis = {unknown.midi for unknown in tune.chain.unknowns}
        mine = set()
        for shift in problem.shifts:
            notes = [midi + shift - lowest for midi in midis]
            if notes and min(notes) >= 0 and max(notes) < _BITS:
                need = _mask(notes)
                if int(need & ~today).bit_count() <= most:
                    mine.add(int(need))
        if mine and tune.chain.played:
            found.append(np.array(sorted(mine), np.uint64))
    return found


class _Start(NamedTuple):
    """Where the layouts of one choice of reeds begin."""

    place: int
    reeds: tuple[Reed, ...]


def _masks(
    wishes: SearchWishes, reeds: int, bits: dict[Reed, list[int]], every: list[Reed]
) -> tuple[Masks, list[_Start]]:
    """The plain notes of every layout, and which choice of reeds begins where."""
    parts: list[Masks] = []
    starts: list[_Start] = []
    place = 0
    for chosen in combinations(free_reeds(wishes), reeds):
        kept = _mask(note for reed in every if reed not in chosen for note in bits[reed])
        masks = np.array([kept], np.uint64)
        for reed in chosen:
            moved = np.array(
                [
                    _mask(note + change.semitones for note in bits[reed])
                    for change in changes_of(wishes, reed)
                ],
                np.uint64,
            )
            masks = (masks[:, None] | moved[None, :]).ravel()
        starts.append(_Start(place, chosen))
        parts.append(masks)
        place += len(masks)
    return np.concatenate(parts), starts


def _layout(wishes: SearchWishes, starts: list[_Start], place: int) -> Layout:
    """The layout at a place of `_masks`."""
    low, high = 0, len(starts)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if starts[middle].place <= place else (low, middle)
    rest = place - starts[low].place
    each = [changes_of(wishes, reed) for reed in starts[low].reeds]
    found = []
    for number, changes in enumerate(each):
        after = prod(len(later) for later in each[number + 1 :])
        found.append(changes[rest // after])
        rest %= after
    return tuple(found)


def _mask(notes: Iterable[int]) -> np.uint64:
    mask = 0
    for note in notes:
        mask |= 1 << note
    return np.uint64(mask)
