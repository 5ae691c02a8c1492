"""The values of the search for a better tuning.

A layout is the base tuning with some reeds changed. A tune is played on the harp of the layout, of
the twelve keys (and in the octaves asked for), on which it lacks the fewest notes and then takes
the least effort: exactly what `tab.ranking.rank_harps` finds, without its small preferences.

Public: `Change`, `Layout`, `SearchWishes`, `TuneOn`, `Score`, `Found`, `SearchResult`,
`layout_tuning`, `change_words`, `layout_words`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import NamedTuple

from reedwright.harp.model import Breath, Reed, Tuning


class Change(NamedTuple):
    """One reed and by how many semitones it is moved (not 0)."""

    reed: Reed
    semitones: int


Layout = tuple[Change, ...]
"""The changes, by hole, blow before draw; empty: the base tuning as it is."""


@dataclass(frozen=True, slots=True)
class SearchWishes:
    """`reeds`: how many may be changed at most; `semitones`: each how far. `base`: the tuning to
    start from. `keys`: of the harps on which each tune may be played. `octaves`: how the tune may
    be moved. `valves` as for `make_harp`. `frozen`: reeds that are to stay as they are.
    """

    base: Tuning
    reeds: int = 1
    semitones: int = 2
    keys: tuple[str, ...] = ("G", "Ab", "A", "Bb", "B", "C", "Db", "D", "Eb", "E", "F", "F#")
    octaves: tuple[int, ...] = (-1, 0, 1)
    valves: str = "none"
    frozen: frozenset[Reed] = frozenset()


class TuneOn(NamedTuple):
    """One tune on one layout at its best: notes missing, effort (units of 1/1024), whether it is
    playable there with no bends or overbends and nothing missing (on any of the keys)."""

    missing: int
    units: int
    plain: bool


class Score(NamedTuple):
    """A layout for the repertoire.

    `plain`: tunes playable with no bends and nothing missing; `playable`: with nothing missing.
    `effort`: the mean over the tunes of effort per note played (missing notes weigh as the
    profile says). `relearned`: share of the notes played today, each tune on its best harp
    of the base tuning, whose reed is changed.
    """

    plain: int
    playable: int
    effort: float
    relearned: float


class Found(NamedTuple):
    """A layout that is worth telling: its score, and the tunes won and lost (indexes) against the
    base tuning: those that become playable with no bends, or no longer are."""

    layout: Layout
    score: Score
    won: tuple[int, ...]
    lost: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class SearchResult:
    """What the search found.

    `titles` of the tunes, in order. `base`: the score of the unchanged tuning. `best`: for each
    number of changed reeds, from 1, the layouts by effort, best first (as many as are kept, and
    none with a change that gains nothing; so there may be no layout at all).
    `plainest`: likewise by tunes playable with no bends. `frontier`: the layouts, over all numbers
    of reeds, that no other beats in reeds changed, effort and `relearned` at once.
    `exact`: up to how many reeds the answer is proven. `bounds`: for numbers beyond that, an effort
    that no layout of so many changes can go under; `plain_bounds`: a number of tunes playable with
    no bends that none can go over.
    """

    wishes: SearchWishes
    titles: tuple[str, ...]
    base: Score
    best: tuple[tuple[Found, ...], ...]
    plainest: tuple[tuple[Found, ...], ...]
    frontier: tuple[Found, ...]
    exact: int
    bounds: dict[int, float] = field(default_factory=dict)
    layouts: int = 0
    seconds: float = 0.0
    plain_bounds: dict[int, int] = field(default_factory=dict)


def layout_tuning(base: Tuning, layout: Layout) -> Tuning:
    """The base tuning with the changes made; named and titled for what was changed.

    A changed reed sounds as much higher or lower with the slide in.
    """
    rows = {name: list(getattr(base, name)) for name in ("blow", "draw", *_SLID.values())}
    for (hole, breath), semitones in layout:
        for row in (rows[breath.value], rows[_SLID[breath]]):
            if row:
                row[hole - 1] += semitones
    if not layout:
        return base
    said = ", ".join(change_words(change) for change in layout)
    slug = "-".join(f"{reed.hole}{reed.breath.value}{semitones:+d}" for reed, semitones in layout)
    return replace(
        base,
        name=f"{base.name}-{slug}",
        title=said if base.name == "richter" else f"{base.title}, {said}",
        description=f"{base.title} with {said}.",
        source="",
        blow=tuple(rows["blow"]),
        draw=tuple(rows["draw"]),
        blow_slide=tuple(rows["blow_slide"]),
        draw_slide=tuple(rows["draw_slide"]),
    )


_SLID = {Breath.BLOW: "blow_slide", Breath.DRAW: "draw_slide"}


def change_words(change: Change) -> str:
    """`3 blow up 2`: the reed and the semitones."""
    way = "up" if change.semitones > 0 else "down"
    return f"{change.reed.hole} {change.reed.breath.value} {way} {abs(change.semitones)}"


def layout_words(layout: Layout) -> str:
    """`3 blow up 2, 7 draw down 1`; `as it is` for no change."""
    return ", ".join(change_words(change) for change in layout) or "as it is"
