"""What each tune of a list takes on each harp: missing notes, effort a note, bends, octave.

Every figure is the one that `rank_harps` finds. A table is worked out once; limits and wishes
(`reedwright.tab.sets.fewest`) are laid over it afterwards.

Public: `efforts`, `EffortTable`.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reedwright.errors import ReedwrightError
from reedwright.harp.making import made_harps
from reedwright.harp.model import Harp
from reedwright.harp.tunings import all_tunings
from reedwright.player.profile import Profile
from reedwright.processes import cores, one_thread_each, serve_quietly
from reedwright.tab.ranking import EVERY_KEY, rank_harps
from reedwright.tune.model import Tune

Progress = Callable[[int, int], None]
"""Is told how many tunes are done, and how many there are."""

MANY = 150
"""Tunes from which on further processes are started; each takes about a second to start."""
_CHUNK = 10  # tunes, about a fifth of a second's work on all harps that are made

_NO_NOTES = "it has no notes that are played"


class EffortsFailed(ReedwrightError):
    """The efforts could not be worked out."""


@dataclass(frozen=True, slots=True, eq=False)
class EffortTable:
    """What each tune takes on each harp, moved by each of `moves` (octaves, semitones).

    Arrays are of shape (tunes, harps, moves). `missing`, `bends`, `overblows` count written notes
    as in `RankedHarp`; `per_note` is effort a note played, `preference` what `rank_harps` adds to
    it for its order. `refused`: by a tune's place, why it was not worked out; its `missing` are -1.
    `grade`: 1 to 10, not a number where it was not worked out (`grading`).
    """

    tunes: tuple[Tune, ...]
    harps: tuple[Harp, ...]
    moves: tuple[tuple[int, int], ...]
    missing: NDArray[np.int32]
    bends: NDArray[np.int32]
    overblows: NDArray[np.int32]
    per_note: NDArray[np.float64]
    preference: NDArray[np.float64]
    refused: dict[int, str]
    grade: NDArray[np.float64] | None = None

    @property
    def unplayable(self) -> tuple[int, ...]:
        """Places of tunes that no harp here has all notes of, and of those refused."""
        complete = (self.missing == 0).any(axis=(1, 2))
        return tuple(int(place) for place in np.flatnonzero(~complete))

    def take(self, tunes: Sequence[int]) -> EffortTable:
        """The table of these tunes alone, in this order."""
        rows = list(tunes)
        return EffortTable(
            tuple(self.tunes[row] for row in rows),
            self.harps,
            self.moves,
            self.missing[rows],
            self.bends[rows],
            self.overblows[rows],
            self.per_note[rows],
            self.preference[rows],
            {place: self.refused[row] for place, row in enumerate(rows) if row in self.refused},
            None if self.grade is None else self.grade[rows],
        )


class _Row(NamedTuple):
    """One tune: counts (3, harps, moves), efforts (2, harps, moves), or why there are none."""

    counts: NDArray[np.int32] | None
    figures: NDArray[np.float64] | None
    why: str = ""


class _Question(NamedTuple):
    """What is the same for all tunes. `given`: None for all harps that are made."""

    profile: Profile
    harps: tuple[Harp, ...]
    given: tuple[Harp, ...] | None
    octaves: tuple[int, ...]
    any_key: bool

    @property
    def moves(self) -> tuple[tuple[int, int], ...]:
        keys = EVERY_KEY if self.any_key else (0,)
        return tuple((octaves, semitones) for octaves in self.octaves for semitones in keys)


def efforts(
    tunes: Iterable[Tune],
    profile: Profile,
    harps: Sequence[Harp] | None = None,
    octaves: Sequence[int] = (-1, 0, 1),
    any_key: bool = False,
    quarters_per_minute: float | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
) -> EffortTable:
    """The table of all tunes on all harps that are made, or on those given (doubles dropped).

    `any_key`: the tunes in the other eleven keys as well. `quarters_per_minute`: for all tunes;
    otherwise each at its own tempo. `workers`: processes; with None one for each core
    where there are `MANY` tunes. Raises `EffortsFailed` where there is no harp to try, or where a
    process is ended from outside.
    """
    each = tuple(tunes)
    given = None if harps is None else tuple(dict.fromkeys(harps))
    if given == ():
        raise EffortsFailed("There are no harps to try the tunes on; name one, such as 'C'.")
    made = given if given is not None else made_harps(all_tunings().values())
    asked = _Question(profile, made, given, tuple(dict.fromkeys(octaves)), any_key)
    if not asked.octaves:
        raise EffortsFailed("No octave to play the tunes in; give 0 for where they are written.")
    if workers is None:
        workers = cores() if len(each) >= MANY else 1
    rows: list[_Row] = []
    chunks = [each[start : start + _CHUNK] for start in range(0, len(each), _CHUNK)]
    for found in _worked_out(asked, chunks, quarters_per_minute, workers):
        rows += found
        if progress is not None:
            progress(len(rows), len(each))
    return _table(each, asked, rows)


def _worked_out(
    asked: _Question, chunks: Sequence[tuple[Tune, ...]], tempo: float | None, workers: int
) -> Iterable[list[_Row]]:
    if workers <= 1 or len(chunks) < 2:
        for chunk in chunks:
            yield [_row(asked, tune, tempo) for tune in chunk]
        return
    with one_thread_each():
        pool = ProcessPoolExecutor(
            min(workers, len(chunks)),
            mp_context=multiprocessing.get_context("spawn"),
            initializer=_begin,
            initargs=(asked, tempo),
        )
        try:
            yield from pool.map(_rows, chunks)
        except BrokenProcessPool as error:
            raise EffortsFailed(
                "A process that worked out tunes was ended from outside, perhaps for want of "
                "memory. Try again with fewer tunes at once."
            ) from error
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


_asked: list[tuple[_Question, float | None]] = []


def _begin(asked: _Question, tempo: float | None) -> None:
    serve_quietly()
    _asked[:] = [(asked, tempo)]


def _rows(chunk: tuple[Tune, ...]) -> list[_Row]:
    ((asked, tempo),) = _asked
    return [_row(asked, tune, tempo) for tune in chunk]


def _row(asked: _Question, tune: Tune, tempo: float | None) -> _Row:
    try:
        ranked = rank_harps(
            tune,
            asked.profile,
            asked.given,
            octaves=asked.octaves,
            any_key=asked.any_key,
            quarters_per_minute=tempo,
        )
    except ReedwrightError as error:
        return _Row(None, None, str(error))
    if not ranked:
        return _Row(None, None, _NO_NOTES)
    places = {harp: place for place, harp in enumerate(asked.harps)}
    moves = {move: place for place, move in enumerate(asked.moves)}
    shape = (len(places), len(moves))
    counts = np.full((3, *shape), -1, np.int32)
    figures = np.zeros((2, *shape))
    for entry in ranked:
        at = places[entry.harp], moves[entry.octaves, entry.semitones]
        counts[:, *at] = entry.missing, entry.bends, entry.overblows
        figures[:, *at] = entry.effort_per_note, entry.preference
    return _Row(counts, figures)


def _table(tunes: tuple[Tune, ...], asked: _Question, rows: Sequence[_Row]) -> EffortTable:
    shape = (len(tunes), len(asked.harps), len(asked.moves))
    counts = np.full((3, *shape), -1, np.int32)
    figures = np.zeros((2, *shape))
    refused: dict[int, str] = {}
    for place, row in enumerate(rows):
        if row.counts is None or row.figures is None:
            refused[place] = row.why
            continue
        counts[:, place], figures[:, place] = row.counts, row.figures
    missing, bends, overblows = counts
    per_note, preference = figures
    return EffortTable(
        tunes,
        asked.harps,
        asked.moves,
        missing,
        bends,
        overblows,
        per_note,
        preference,
        refused,
    )
