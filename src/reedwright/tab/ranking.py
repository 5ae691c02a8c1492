"""Which harp a tune lies best on: the exact least effort on every harp, in one sweep.

A harp a tone higher with the tune a tone higher is the same problem, so each layout is
solved once for each distance between tune and harp; all are solved together, with
the very costs and the very solver of `arrange`.

Order: fewest notes missing, then effort per note with a small preference added (below),
then harps as they were given, nearer octaves first.

Public: `rank_harps`, `best_harp`, `RankedHarp`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reedwright.harp.making import made_harps
from reedwright.harp.model import Harp, Reed, Technique, Tuning
from reedwright.harp.position import position, position_name
from reedwright.harp.tunings import all_tunings
from reedwright.player.profile import Profile
from reedwright.tab.chain import Chain, make_chain
from reedwright.tab.costs import problems_of
from reedwright.tab.effort import SCALE, TECHNIQUE_ORDER
from reedwright.tab.ornaments.playable import LOST, OTHER, OUTCOMES
from reedwright.tab.solver import solve
from reedwright.tab.ways import NO_NOTE, WayTable, way_table
from reedwright.tab.words import counted, moved_words
from reedwright.tune.model import Tune
from reedwright.tune.tempo import quarters_per_minute as usual_tempo

# What is preferred among harps that are about equally easy, in effort per note added to
# the true effort (assumptions: judgement, no source). They order the list and no more.
MOVED_OCTAVE = 0.08  # for each octave that the tune is moved
MOVED_KEY = 0.15  # the tune in another key than it was written in
LOW_OR_HIGH = 0.10  # a harp of the low or high register
TUNING = {  # how common such harps are, and how easily one is made by retuning
    "richter": 0.0,
    "richter-raised-3-blow": 0.02,
    "richter-raised-5-draw": 0.08,
    "richter-raised-3-blow-5-draw": 0.10,
    "natural-minor": 0.12,
    "harmonic-minor": 0.15,
}
OTHER_TUNING = 0.20
SLIDE = 2.0  # another instrument: only where ten holes will not do, unless it is owned
POSITION = {1: 0.0, 2: 0.02, 3: 0.04, 12: 0.04, 4: 0.10, 5: 0.10, 11: 0.10}
OTHER_POSITION = 0.25  # sixth to tenth: hardly anybody has them in the hands

EVERY_KEY = tuple(range(-5, 7))
"""Semitones to the twelve keys, nearest way round."""

Counts = NDArray[np.int64]

_BENT = (TECHNIQUE_ORDER.index(Technique.BEND), TECHNIQUE_ORDER.index(Technique.VALVED_BEND))
_OTHER, _LOST = OUTCOMES.index(OTHER), OUTCOMES.index(LOST)
_OVER = tuple(at for at, technique in enumerate(TECHNIQUE_ORDER) if technique.overbend)


@dataclass(frozen=True, slots=True)
class RankedHarp:
    """A harp for a tune, the tune moved by octaves and semitones, and what it takes.

    `effort` as `Arrangement.effort`, over the tune as played; `effort_per_note` shares it
    out among the notes played. `bends` (valved ones too) and `overblows` (overdraws too)
    and `missing` count written notes; `other_ornaments` written grace notes and rolls that
    become other notes than written, `lost_ornaments` those that cannot be played. The holes
    are 0 where every note is missing.
    `preference` is what was added to `effort_per_note` for the order.
    """

    harp: Harp
    octaves: int
    semitones: int
    position: int
    effort: float
    effort_per_note: float
    bends: int
    overblows: int
    missing: int
    other_ornaments: int
    lost_ornaments: int
    lowest_hole: int
    highest_hole: int
    preference: float

    @property
    def complete(self) -> bool:
        return self.missing == 0

    @property
    def why(self) -> str:
        """One line for people: `first position, no bends, holes 2 to 8`."""
        said = []
        if self.missing:
            said.append(f"{counted(self.missing, 'note')} missing")
        said.append(f"{position_name(self.position)} position")
        if self.bends:
            said.append(counted(self.bends, "bend"))
        if self.overblows:
            said.append(counted(self.overblows, "overblow or overdraw", "overblows or overdraws"))
        if not self.bends and not self.overblows:
            said.append("no bends")
        if self.other_ornaments:
            said.append(f"{counted(self.other_ornaments, 'ornament')} on other notes")
        if self.lost_ornaments:
            said.append(f"{counted(self.lost_ornaments, 'ornament')} left out")
        if self.octaves:
            said.append(f"the tune {moved_words(self.octaves, 0)}")
        if self.semitones:
            said.append(f"the tune {moved_words(0, self.semitones)}")
        if self.highest_hole:
            said.append(f"holes {self.lowest_hole} to {self.highest_hole}")
        return ", ".join(said)


def rank_harps(
    tune: Tune,
    profile: Profile,
    harps: Sequence[Harp] | None = None,
    voice: int = 0,
    octaves: Sequence[int] = (-1, 0, 1),
    any_key: bool = False,
    quarters_per_minute: float | None = None,
) -> tuple[RankedHarp, ...]:
    """Every harp (all that are made, or those given) with the tune moved by each of `octaves`.

    `any_key`: also with the tune in the other eleven keys. Efforts equal those of
    `arrange` exactly. Empty where the voice has no notes that are played.
    """
    return _rank(tune, profile, harps, voice, octaves, any_key, quarters_per_minute, False)


def best_harp(
    tune: Tune,
    profile: Profile,
    harps: Sequence[Harp] | None = None,
    voice: int = 0,
    octaves: Sequence[int] = (-1, 0, 1),
    any_key: bool = False,
    quarters_per_minute: float | None = None,
) -> RankedHarp | None:
    """The first of `rank_harps`, sooner: harps that miss more notes than others are not tried."""
    ranked = _rank(tune, profile, harps, voice, octaves, any_key, quarters_per_minute, True)
    return ranked[0] if ranked else None


def _rank(
    tune: Tune,
    profile: Profile,
    harps: Sequence[Harp] | None,
    voice: int,
    octaves: Sequence[int],
    any_key: bool,
    tempo: float | None,
    only_best: bool,
) -> tuple[RankedHarp, ...]:
    chain = make_chain(tune, voice)
    if not chain.played:
        return ()
    made = _all_harps() if harps is None else tuple(harps)
    if not made:
        return ()
    moves = tuple((o, s) for o in octaves for s in (EVERY_KEY if any_key else (0,)))
    choices = _choices(made, moves)
    table = way_table(choices.harps, choices.moved, profile)
    missing = _missing(chain, table)
    columns = np.arange(len(choices.harps))
    if only_best:
        columns = columns[missing == missing.min()]
    speed = tempo or usual_tempo(tune)
    rows = np.zeros((len(choices.harps), _COLUMNS), np.int64)
    for group in _alike(chain, table, columns):
        rows[group] = _solved(chain, table.take(group), profile, speed)
    wanted = set(columns.tolist())
    numbers = rows.tolist()
    tonic = tune.key.tonic_pitch_class
    ranked = []
    for place, (harp, octave, semitones, problem) in enumerate(choices.each):
        if problem not in wanted:
            continue
        where = position((tonic + semitones) % 12, harp)
        liking = _preference(harp, where, octave, semitones, owned=harps is not None)
        units, bends, overblows, lacking, other, lost, lowest, highest = numbers[problem]
        entry = RankedHarp(
            harp=harp,
            octaves=octave,
            semitones=semitones,
            position=where,
            effort=units / SCALE,
            effort_per_note=units / SCALE / chain.played,
            bends=bends,
            overblows=overblows,
            missing=lacking,
            other_ornaments=other,
            lost_ornaments=lost,
            lowest_hole=lowest,
            highest_hole=highest,
            preference=liking,
        )
        order = (entry.missing, entry.effort_per_note + liking, abs(octave), abs(semitones), place)
        ranked.append((order, entry))
    ranked.sort(key=lambda pair: pair[0])
    return tuple(entry for _, entry in ranked)


@lru_cache(maxsize=1)
def _made_cached(tunings: tuple[Tuning, ...]) -> tuple[Harp, ...]:
    return made_harps(tunings)


def _all_harps() -> tuple[Harp, ...]:
    """Every harp that is made, in every tuning: the shipped ones and the user's."""
    return _made_cached(tuple(all_tunings().values()))


class _Choices(NamedTuple):
    """What to choose from, and the distinct problems behind it.

    `harps` and `moved` (semitones of the tune) are one of each problem's kind; `each` has
    harp, octaves, semitones and the index of its problem.
    """

    harps: tuple[Harp, ...]
    moved: tuple[int, ...]
    each: tuple[tuple[Harp, int, int, int], ...]


@lru_cache(maxsize=16)
def _choices(harps: tuple[Harp, ...], moves: tuple[tuple[int, int], ...]) -> _Choices:
    problems: dict[tuple[Tuning, frozenset[Reed], int], int] = {}
    ones: list[tuple[Harp, int]] = []
    each = []
    for harp in harps:
        for octave, semitones in moves:
            moved = 12 * octave + semitones
            key = (harp.tuning, harp.isolated, moved - harp.transpose)
            if key not in problems:
                problems[key] = len(ones)
                ones.append((harp, moved))
            each.append((harp, octave, semitones, problems[key]))
    return _Choices(tuple(harp for harp, _ in ones), tuple(moved for _, moved in ones), tuple(each))


def _missing(chain: Chain, table: WayTable) -> Counts:
    """How many written notes each problem lacks; a tied note counts once."""
    midis = [unknown.midi for unknown in chain.unknowns]
    lacking: Counts = (table.counts[midis] == 0).sum(axis=0)
    return lacking


_FEW_WAYS = 2


def _alike(chain: Chain, table: WayTable, columns: Counts) -> list[Counts]:
    """The problems in two groups, few ways and many, so that few need no large tables."""
    midis = sorted({unknown.midi for unknown in chain.unknowns})
    most = table.counts[midis].max(axis=0)[columns]
    groups = (columns[most <= _FEW_WAYS], columns[most > _FEW_WAYS])
    return [group for group in groups if group.size]


_COLUMNS = 8


def _solved(chain: Chain, table: WayTable, profile: Profile, tempo: float) -> Counts:
    """For each problem: effort in units, and the counts of `RankedHarp` in its order."""
    totals, states = solve(problems_of(chain, table, profile.weights, tempo))
    midis = np.array([unknown.midi for unknown in chain.unknowns])[:, None]
    each = np.arange(states.shape[1])
    hole = table.ways.hole[midis, states, each]
    technique = table.ways.technique[midis, states, each]
    there = hole > 0
    return np.stack(
        [
            totals,
            np.isin(technique, _BENT).sum(axis=0),
            np.isin(technique, _OVER).sum(axis=0),
            _missing(chain, table),
            *_ornaments(chain, table, states),
            np.where(there.any(axis=0), np.where(there, hole, 127).min(axis=0), 0),
            hole.max(axis=0),
        ],
        axis=1,
    )


def _ornaments(chain: Chain, table: WayTable, states: Counts) -> tuple[Counts, Counts]:
    """How many written ornaments become other notes, and how many cannot be played."""
    other, lost = np.zeros((2, states.shape[1]), np.int64)
    each = np.arange(states.shape[1])
    for i, demand in {(i, demand) for i, _, demand in chain.ornaments}:
        outcome = table.ornament(chain.unknowns[i].midi, demand).outcome[states[i], each]
        other += outcome == _OTHER
        lost += (outcome == _LOST) | (outcome == NO_NOTE)
    return other, lost


def _preference(harp: Harp, where: int, octaves: int, semitones: int, owned: bool) -> float:
    """Added to effort per note for the order; see the constants at the head of this file."""
    liking = MOVED_OCTAVE * abs(octaves) + (MOVED_KEY if semitones else 0.0)
    liking += LOW_OR_HIGH if harp.register != "ordinary" else 0.0
    liking += POSITION.get(where, OTHER_POSITION)
    if not owned:  # what somebody owns is common enough
        liking += SLIDE if harp.tuning.slide else TUNING.get(harp.tuning.name, OTHER_TUNING)
    return liking
