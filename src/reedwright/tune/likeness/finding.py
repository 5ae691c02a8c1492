"""Finding a tune by its notes.

Public: `find`, `find_any`, `ranked_any`, `Ranked`, `Leaning`, `AS_TYPED`.

0. Short notes may be ornaments: the query is looked for with and without them.
1. The index names the windows of the collection that share runs of intervals with the query
   (`candidates`).
2. The query is laid along each at the least cost (`aligning`).
3. The best are looked at closely: the transposition with its octave, notes in another
   octave, and the rhythm, at the tempo that fits best.
4. Of each tune the best place counts.

Who types notes begins where a tune, a part or at least a bar begins, and mostly in its key. A
`Leaning` lets such places go first among those that fit about as well; scores do not change by it.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import log2
from statistics import median
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.tune.likeness.aligning import Laid, Step, costs_of, trace, window_costs
from reedwright.tune.likeness.candidates import WIDTH, candidates
from reedwright.tune.likeness.collection import GAP, Collection
from reedwright.tune.likeness.model import (
    FEWEST_NOTES,
    Difference,
    Match,
    NotFindable,
    Query,
    QueryNote,
)

OTHER_OCTAVE = 0.3
RHYTHM = 0.25  # the cost of a note twice or half as long as it should be
EVEN_ENOUGH = 0.2  # of a doubling: what players vary, and gaps between notes take
CLEARLY_UNEVEN = 0.8  # of a doubling: told as a difference
ORNAMENT_SHARE = 0.35  # of the usual span from onset to onset: a cut lasts less than that
LOOKED_AT_CLOSELY = 150  # windows
_CHECKED_EVERY = 10
MARGIN = 3  # places beside the window; the query may lie that far off where notes are missed
HARDLY_ALIKE = 0.65  # score: two wrong notes of six still pass
# Of a query: more fits no window, and memory grows with it (takes are asked for in stretches).
MOST_NOTES = 100


class Leaning(NamedTuple):
    """How much less a match costs, where it begins as `Start` says; `as_written`: where it needs
    no transposition, `other_octave`: none but by octaves."""

    starts: tuple[float, float, float, float]
    as_written: float = 0.0
    other_octave: float = 0.0


AS_TYPED = Leaning((0.0, 0.25, 0.6, 0.75), 0.7, 0.25)
"""Of two that fit equally well the one that begins there, in the key that was typed, goes first; it
also goes before one with an error less that begins anywhere, in another key. Found by trial on
queries apart from those measured (docs/shelf-finding.md)."""
_BESIDE = 0.15  # of it is lost where the match begins one note later


class _Found(NamedTuple):
    cost: float
    rank: float  # the cost, less what a leaning takes off
    first: int
    last: int
    semitones: int
    difference: Difference


def find(
    collection: Collection,
    query: Query,
    limit: int = 10,
    worst: float = HARDLY_ALIKE,
    leaning: Leaning | None = None,
    among: npt.NDArray[np.bool_] | None = None,
) -> list[Match]:
    """The tunes that fit best, at most `limit`, best first, with a score of `worst` or more.

    Where some notes are so short that they may be ornaments, the query is read without them, too.
    `among`, of shape (tunes,): tunes that may be found; all where not said.

    Raises `NotFindable` for a query of fewer than four notes.
    """
    plain = _without_ornaments(query)
    readings = (query,) if plain is None else (query, plain)
    found = [_find(collection, each, limit, worst, leaning, among) for each in readings]
    return [each.match for each in _merged(found, limit)]


def _without_ornaments(query: Query) -> Query | None:
    """The query without its shortest notes, whose time goes to the notes after them; None
    where there are none, or too little is left."""
    notes = query.notes
    if not query.has_rhythm or len(notes) <= FEWEST_NOTES:
        return None
    spans = _spans(notes)
    shortest = ORNAMENT_SHARE * median(spans)
    kept: list[QueryNote] = []
    begun: float | None = None
    for note, span in zip(notes, spans, strict=True):
        if span < shortest:
            begun = note.onset if begun is None else begun
            continue
        if begun is not None:
            note = QueryNote(note.midi, begun, note.onset + note.length - begun)
        kept.append(note)
        begun = None
    return Query(tuple(kept)) if FEWEST_NOTES <= len(kept) < len(notes) else None


class Ranked(NamedTuple):
    """A match, and its cost for each note of the query, less what a leaning takes off."""

    rank: float
    match: Match


def _find(
    collection: Collection,
    query: Query,
    limit: int,
    worst: float,
    leaning: Leaning | None,
    among: npt.NDArray[np.bool_] | None,
) -> list[Ranked]:
    notes = query.notes[:MOST_NOTES]
    if len(notes) < FEWEST_NOTES:
        raise NotFindable(
            f"{len(notes)} notes are too few to find a tune by. Give {FEWEST_NOTES} at least; "
            "eight or more single a tune out."
        )
    pitches = whole_pitches([note.midi for note in notes])
    by_start = None if leaning is None else np.array(leaning.starts, dtype=np.float32)
    windows = candidates(collection, pitches, among, None if by_start is None else 1 + by_start)
    if not len(windows.starts) or not limit:
        return []
    costs = costs_of(pitches, _spans(notes) if query.has_rhythm else None)
    size = len(pitches) + WIDTH + len(pitches) // 4 + 2 * MARGIN
    starts = windows.starts - MARGIN - WIDTH // 2
    shown = _windows(collection.midi, starts, size, GAP)
    wanted = np.array(pitches)
    table = window_costs(wanted, costs, shown, windows.shifts)
    costs_least = least = table[:, -1].min(axis=1)
    if by_start is not None and leaning is not None:
        begun = _windows(collection.starts, starts, 2 * MARGIN + WIDTH + 1, 0)
        least = least - by_start[begun].max(axis=1) - leaning.as_written
    best = np.argsort(least, kind="stable")[:LOOKED_AT_CLOSELY]
    by_tune: dict[int, _Found] = {}
    for rank, k in enumerate(best.tolist()):
        # A closer look only adds to the cost, so what begins above the last place can't enter.
        if rank % _CHECKED_EVERY == 0 and _settled(by_tune, limit, float(least[k])):
            break
        shift = int(windows.shifts[k])
        steps = trace(table[k], wanted, costs, shown[k], shift)
        found = _looked_at(
            collection, query, notes, pitches, steps, int(starts[k]), float(costs_least[k]), leaning
        )
        if found is None:
            continue
        tune = collection.tune_at(found.first)
        if among is not None and not among[tune]:
            continue
        if tune not in by_tune or found.rank < by_tune[tune].rank:
            by_tune[tune] = found
    ranked = sorted(by_tune.items(), key=lambda item: (item[1].rank, item[0]))[:limit]
    count = len(pitches)
    matches = [
        Ranked(found.rank / count, _match(collection, tune, found, count)) for tune, found in ranked
    ]
    return [each for each in matches if each.match.score >= worst]


def find_any(collection: Collection, queries: Sequence[Query], limit: int = 10) -> list[Match]:
    """The tunes that fit any of several readings of a query, each with its best match."""
    return [each.match for each in ranked_any(collection, queries, limit)]


def ranked_any(
    collection: Collection,
    queries: Sequence[Query],
    limit: int = 10,
    leaning: Leaning | None = None,
    among: npt.NDArray[np.bool_] | None = None,
) -> list[Ranked]:
    """As `find_any`, with a leaning, and how each ranks."""
    readings: list[list[Ranked]] = []
    for query in queries:
        plain = _without_ornaments(query)
        for reading in (query,) if plain is None else (query, plain):
            readings.append(_find(collection, reading, limit, HARDLY_ALIKE, leaning, among))
    return _merged(readings, limit)


def _merged(readings: Sequence[Sequence[Ranked]], limit: int) -> list[Ranked]:
    """The best of several readings of a query, each tune once."""
    best: dict[int, Ranked] = {}
    for ranked in readings:
        for each in ranked:
            index = each.match.index
            if index not in best or each.rank < best[index].rank:
                best[index] = each
    return sorted(best.values(), key=lambda each: (each.rank, each.match.index))[:limit]


def _settled(by_tune: dict[int, _Found], limit: int, least: float) -> bool:
    if len(by_tune) < limit:
        return False
    return sorted(found.rank for found in by_tune.values())[limit - 1] <= least


def whole_pitches(midi: Sequence[float]) -> list[int]:
    """Pitches as whole notes, once the tuning that they share is taken out."""
    turns = np.exp(2j * np.pi * np.asarray(midi, dtype=np.float64))
    tuning = float(np.angle(turns.mean()) / (2 * np.pi))
    return [round(each - tuning) for each in midi]


def _spans(notes: Sequence[QueryNote]) -> list[float]:
    """From onset to onset; the last note by its length."""
    onsets = [note.onset for note in notes]
    return [b - a for a, b in pairwise(onsets)] + [notes[-1].length]


def _windows(
    values: npt.NDArray[np.integer], starts: npt.NDArray[np.int64], size: int, outside: int
) -> npt.NDArray[np.int32]:
    places = starts[:, None] + np.arange(size)
    inside = (places >= 0) & (places < len(values))
    found: npt.NDArray[np.int32] = values[np.clip(places, 0, len(values) - 1)].astype(np.int32)
    found[~inside] = outside
    return found


def _looked_at(
    collection: Collection,
    query: Query,
    notes: Sequence[QueryNote],
    pitches: Sequence[int],
    steps: Sequence[Laid],
    start: int,
    cost: float,
    leaning: Leaning | None,
) -> _Found | None:
    """A way through a window weighed in full; None where nothing of it fits."""
    pairs = [(laid.note, start + laid.place) for laid in steps if laid.note >= 0 <= laid.place]
    same = [(laid.note, start + laid.place) for laid in steps if laid.step is Step.SAME]
    if len(same) < FEWEST_NOTES - 1:
        return None
    moves = [pitches[note] - int(collection.midi[place]) for note, place in same]
    semitones = max(set(moves), key=lambda move: (moves.count(move), -abs(move)))
    octave = len(moves) - moves.count(semitones)
    cost += OTHER_OCTAVE * octave
    uneven = 0
    if query.has_rhythm:
        strayings = _strayings(collection, notes, pairs)
        cost += RHYTHM * sum(min(1.0, max(0.0, each - EVEN_ENOUGH)) for each in strayings)
        uneven = sum(each > CLEARLY_UNEVEN for each in strayings)
    counted = [laid.step for laid in steps]
    difference = Difference(
        counted.count(Step.WRONG),
        counted.count(Step.MISSED),
        counted.count(Step.ADDED),
        octave,
        uneven,
    )
    first = pairs[0][1]
    rank = cost if leaning is None else cost - _leant(collection, first, semitones, leaning)
    return _Found(cost, rank, first, pairs[-1][1], semitones, difference)


def _leant(collection: Collection, first: int, semitones: int, leaning: Leaning) -> float:
    """What a leaning takes off the cost."""
    here = leaning.starts[int(collection.starts[first])]
    if first:
        here = max(here, leaning.starts[int(collection.starts[first - 1])] - _BESIDE)
    if semitones == 0:
        return here + leaning.as_written
    return here + (leaning.other_octave if semitones % 12 == 0 else 0.0)


def _strayings(
    collection: Collection, notes: Sequence[QueryNote], pairs: Sequence[tuple[int, int]]
) -> list[float]:
    """How far each note's span strays from the tune's at the tempo that fits best, in doublings."""
    ratios: list[float] = []
    for (note, place), (next_note, next_place) in pairwise(pairs):
        played = notes[next_note].onset - notes[note].onset
        written = float(collection.onset[next_place] - collection.onset[place])
        if played > 0 and written > 0:
            ratios.append(log2(played / written))
    if pairs and pairs[-1][0] == len(notes) - 1:
        played, written = notes[-1].length, float(collection.length[pairs[-1][1]])
        if played > 0 and written > 0:
            ratios.append(log2(played / written))
    if not ratios:
        return []
    tempo = median(ratios)
    return [abs(each - tempo) for each in ratios]


def _match(collection: Collection, tune: int, found: _Found, notes: int) -> Match:
    return Match(
        collection.tunes[tune],
        tune,
        max(0.0, 1 - found.cost / notes),
        int(collection.bar[found.first]),
        int(collection.bar[found.last]),
        found.semitones,
        found.difference,
    )
