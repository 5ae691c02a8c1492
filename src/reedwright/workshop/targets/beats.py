"""Beats of reeds that sound together, and the target that makes a pair beat as wished.

Two tones whose m-th and n-th partials nearly meet beat as often as those partials differ:
|m f1 - n f2| times a second (H. Helmholtz, On the Sensations of Tone). Beats are those of the
harp as it is played, with temperament and stretch in; at the bench, where every reed sounds sharper
by the same cents, all beats are quicker by that ratio, and `bench_rate` gives them.

What sounds together: neighbouring holes of one breath, the outer two of three neighbouring holes,
and octaves over four or five holes with the tongue on those between (common practice).

Public: `PairKind`, `PairBeats`, `ChordBeats`, `pair_beats`, `beats_of`, `chord_beats`,
`parse_pair`, `read_pair`, `PURE_HZ`.
"""

from __future__ import annotations

import re
from enum import StrEnum
from typing import NamedTuple

from reedwright.harp.layout import note_name
from reedwright.harp.model import Breath, Harp, Reed
from reedwright.workshop.targets.checking import TargetError
from reedwright.workshop.targets.chord_names import triad_kind
from reedwright.workshop.targets.chords import WINDOW, breath_notes
from reedwright.workshop.targets.intervals import interval_name, nearest_partials
from reedwright.workshop.targets.model import Targets

# One beat in twenty seconds: longer than any breath, so nobody hears it. Our own choice.
PURE_HZ = 0.05
# Holes from the first to the last of an octave that is played with the tongue between.
OCTAVE_REACH = (3, 4)
_OCTAVE = 12  # semitones


class PairKind(StrEnum):
    """How two reeds come to sound together."""

    NEIGHBOURS = "neighbours"
    OUTER = "outer notes of three holes"
    OCTAVE = "octave"
    CHOSEN = "chosen"  # none of these; somebody asked for it


class PairBeats(NamedTuple):
    """Two reeds of one breath sounded together.

    `lower` and `upper` by note (by hole where the notes are equal); `semitones` between the
    notes; `cents` between the pitches as played. `partials` (m, n): the m-th of the lower meets
    the n-th of the upper. `rate` is n times the upper pitch less m times the lower, in Hz: above 0
    where the interval is wider than pure, below where it is narrower; beats are heard
    `abs(rate)` times a second. `bench_rate` is the same at the bench.
    """

    kind: PairKind
    lower: Reed
    upper: Reed
    semitones: int
    cents: float
    partials: tuple[int, int]
    rate: float
    bench_rate: float

    @property
    def interval(self) -> str:
        """`major third`."""
        return interval_name(self.semitones)

    @property
    def beats(self) -> float:
        """How many beats a second are heard when it is played."""
        return abs(self.rate)

    @property
    def pure(self) -> bool:
        """Whether no beat is heard within a breath."""
        return self.beats < PURE_HZ


class ChordBeats(NamedTuple):
    """Three neighbouring holes of one breath: the chord's name where it has one, and its pairs."""

    breath: Breath
    holes: tuple[int, int, int]
    name: str
    pairs: tuple[PairBeats, PairBeats, PairBeats]

    @property
    def fastest(self) -> float:
        """The quickest beats in it, a second."""
        return max(pair.beats for pair in self.pairs)

    @property
    def pure(self) -> bool:
        return all(pair.pure for pair in self.pairs)


def pair_beats(targets: Targets) -> tuple[PairBeats, ...]:
    """Every pair that a player sounds together: blow, then draw; by kind, then from hole 1 up."""
    found = []
    for breath in Breath:
        notes = breath_notes(targets.harp, breath)
        for kind, low, high in _sounded(notes):
            found.append(beats_of(targets, Reed(low, breath), Reed(high, breath), kind))
    return tuple(found)


def chord_beats(targets: Targets) -> tuple[ChordBeats, ...]:
    """Every three neighbouring holes of a breath: blow, then draw, from hole 1 up."""
    found = []
    for breath in Breath:
        notes = breath_notes(targets.harp, breath)
        for first in range(1, len(notes) - WINDOW + 2):
            one, two, three = (Reed(first + step, breath) for step in range(WINDOW))
            found.append(
                ChordBeats(
                    breath,
                    (first, first + 1, first + 2),
                    _chord_name(targets.harp, notes[first - 1 : first + 2]),
                    (
                        beats_of(targets, one, two, PairKind.NEIGHBOURS),
                        beats_of(targets, two, three, PairKind.NEIGHBOURS),
                        beats_of(targets, one, three, PairKind.OUTER),
                    ),
                )
            )
    return tuple(found)


def beats_of(
    targets: Targets,
    one: Reed,
    other: Reed,
    kind: PairKind | None = None,
    partials: tuple[int, int] | None = None,
) -> PairBeats:
    """The beats of any two reeds of one breath.

    `partials` (m, n) are those to listen to where not the nearest simple ones. Raises `TargetError`
    where the harp lacks a reed, or the two do not sound together.
    """
    for reed in (one, other):
        if not 1 <= reed.hole <= targets.harp.tuning.holes:
            raise TargetError(
                f"the {targets.harp.name} has no hole {reed.hole}; holes are 1 to "
                f"{targets.harp.tuning.holes}"
            )
    if one.breath is not other.breath:
        raise TargetError(
            f"blow and draw do not sound together ({one.hole} {one.breath.value}, {other.hole} "
            f"{other.breath.value}); give two holes of one breath"
        )
    if one == other:
        raise TargetError(f"one reed does not beat ({one.hole} {one.breath.value}); give two holes")
    first, second = targets.of(one), targets.of(other)
    low, high = sorted((first, second), key=lambda each: (each.midi, each.reed.hole))
    cents = 100 * (high.midi - low.midi) + high.cents - low.cents
    m, n = partials or nearest_partials(cents)
    return PairBeats(
        kind or _kind(breath_notes(targets.harp, one.breath), one.hole, other.hole),
        low.reed,
        high.reed,
        high.midi - low.midi,
        cents,
        (m, n),
        n * high.hz - m * low.hz,
        n * high.bench_hz - m * low.bench_hz,
    )


def parse_pair(text: str, harp: Harp) -> tuple[Reed, Reed]:
    """Two reeds as a player writes them, as `read_pair` reads them.

    Raises `TargetError` where it cannot be read or the harp has no such hole.
    """
    pair = read_pair(text)
    for reed in pair:
        if not 1 <= reed.hole <= harp.tuning.holes:
            raise TargetError(
                f"'{text}': there is no hole {reed.hole}; holes are 1 to {harp.tuning.holes}"
            )
    return pair


def read_pair(text: str) -> tuple[Reed, Reed]:
    """Two reeds of any harp as a player writes them: `blow 1 4`, `draw 2 and 5`, `1-4 blow`.

    In the order in which they are written. Raises `TargetError` where it cannot be read.
    """
    help_text = "write the breath and two holes, such as 'blow 1 4'"
    words = re.sub(r"[,;+&/–-]", " ", text.lower()).split()
    breaths = [word for word in words if word in (Breath.BLOW, Breath.DRAW)]
    holes = [word for word in words if word.isdecimal() and word.isascii()]
    if len(breaths) + len(holes) + words.count("and") != len(words) or not words:
        raise TargetError(f"'{text}' is not understood as a pair of reeds; {help_text}")
    if len(set(breaths)) > 1:
        raise TargetError(f"'{text}': blow and draw do not sound together; {help_text}")
    if not breaths or len(holes) != 2:
        raise TargetError(f"'{text}' does not name a breath and two holes; {help_text}")
    first, second = (int(hole) for hole in holes)
    if first == second:
        raise TargetError(f"'{text}' names one hole twice; {help_text}")
    breath = Breath(breaths[0])
    return Reed(first, breath), Reed(second, breath)


def _sounded(notes: tuple[int, ...]) -> list[tuple[PairKind, int, int]]:
    """The pairs of holes of one breath that are sounded together, and how."""
    holes = len(notes)
    pairs = [(hole, hole + reach) for reach in (1, 2) for hole in range(1, holes - reach + 1)]
    for low in range(1, holes + 1):
        for high in (low + reach for reach in OCTAVE_REACH):
            if high <= holes and abs(notes[high - 1] - notes[low - 1]) == _OCTAVE:
                pairs.append((low, high))
    return [(_kind(notes, low, high), low, high) for low, high in pairs]


def _kind(notes: tuple[int, ...], one: int, other: int) -> PairKind:
    apart = abs(one - other)
    if apart == 1:
        return PairKind.NEIGHBOURS
    if apart == WINDOW - 1:
        return PairKind.OUTER
    if apart in OCTAVE_REACH and abs(notes[one - 1] - notes[other - 1]) == _OCTAVE:
        return PairKind.OCTAVE
    return PairKind.CHOSEN


def _chord_name(harp: Harp, notes: tuple[int, ...]) -> str:
    """`G major` of three notes in any order, or nothing where they are no such chord.

    An augmented chord is named by its lowest note, since each of its notes could be the root.
    """
    for root in sorted(notes):
        kind = triad_kind([midi - root for midi in notes])
        if kind:
            return f"{note_name(root, harp, octave=False)} {kind}"
    return ""
