"""The chord that the reeds of one breath make: its root, each reed's role, each role's pure ratio.

Root: the pitch class that the others support most as parts of one harmonic series, by the
root-support weights of R. Parncutt ("Revision of Terhardt's psychoacoustical model of the root(s)
of a musical chord", Music Perception 6(1), 1988; the whole numbers used here are from memory:
octave 10, fifth 5, major third 3, minor seventh 2, ninth 1). Of equals the home note is taken for
blow and the fifth above it for draw, then the pitch class with more reeds, then with the lowest.
So Richter blows the major chord of its home note and draws the ninth chord on the fifth.

Ratio: of the ratios that a role may take in a limit (`chord_ratios.toml`) those are found that make
all pairs of reeds within three neighbouring holes as simple as can be: the least sum of log2(m n)
over the pairs, an interval of m : n being the more beatless the smaller both are (harmonic distance
after J. Tenney, 1983, from memory). All choices are tried and compared exactly, in whole
numbers. One note has one ratio in all octaves of its breath, so octaves are pure.

Anchor: the root itself stands above the home note by the five-limit ratio of its place in the
scale, so a draw root on the fifth is a pure 3/2 above home, and one on the second 9/8.

Public: `ROLES`, `BreathChord`, `breath_chord`, `ChordTuning`, `chord_tuning`, `LIMITS`.
"""

from __future__ import annotations

import tomllib
from collections import Counter
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache
from itertools import product
from math import prod
from pathlib import Path

from reedwright.harp.layout import home_key
from reedwright.harp.model import Breath, Harp
from reedwright.harp.naming import spell
from reedwright.workshop.targets.chord_names import chord_kind

# By semitones above the root.
ROLES = (
    "root",
    "flat ninth",
    "ninth",
    "minor third",
    "major third",
    "fourth",
    "flat fifth",
    "fifth",
    "flat sixth",
    "sixth",
    "seventh",
    "major seventh",
)
LIMITS = (5, 7)
WINDOW = 3  # holes that one mouth covers: double stops and chords of three

# Parncutt's root-support weights by semitones above the root (see above).
_SUPPORT = {0: 10, 7: 5, 4: 3, 10: 2, 2: 1}
_FIFTH = 7  # semitones
_RATIOS = Path(__file__).with_name("chord_ratios.toml")
# Where a root stands above the home note, by semitones: the five-limit scale of textbooks.
_ANCHORS = ["1", "16/15", "9/8", "6/5", "5/4", "4/3", "45/32", "3/2", "8/5", "5/3", "9/5", "15/8"]


@dataclass(frozen=True, slots=True)
class BreathChord:
    """What the reeds of a breath make together.

    `root` is a pitch class (0 for C to 11 for B), `title` the chord in words (`G ninth`),
    `above_home` how many semitones (0 to 11) the root stands above the home note.
    """

    breath: Breath
    root: int
    title: str
    above_home: int

    def role(self, midi: int) -> str:
        """What a note is in this chord: `root`, `major third`, `seventh`."""
        return ROLES[(midi - self.root) % 12]

    @property
    def anchor(self) -> Fraction:
        """The ratio of the root above the home note, from 1 to 2."""
        return Fraction(_ANCHORS[self.above_home])


@dataclass(frozen=True, slots=True)
class ChordTuning:
    """The pure ratio above the root of every pitch class of a breath, from 1 up to 2."""

    chord: BreathChord
    limit: int
    ratios: dict[int, Fraction]

    def above_home(self, midi: int) -> Fraction:
        """The ratio of a note above a home note, within some octave."""
        return self.ratios[midi % 12] * self.chord.anchor


def breath_chord(harp: Harp, breath: Breath) -> BreathChord:
    """The chord of all reeds of a breath, with the slide out."""
    notes = breath_notes(harp, breath)
    home = harp.home_pitch_class
    root = _root(notes, home if breath is Breath.BLOW else (home + _FIFTH) % 12)
    name = spell(60 + root, home_key(harp), octave=False)
    kind = chord_kind({midi - root for midi in notes})
    return BreathChord(breath, root, f"{name} {kind}", (root - home) % 12)


def chord_tuning(harp: Harp, breath: Breath, limit: int) -> ChordTuning:
    """The ratios that make this breath's chords as beatless as the limit (5 or 7) allows."""
    chord = breath_chord(harp, breath)
    notes = tuple(midi - chord.root for midi in breath_notes(harp, breath))
    found = _simplest(notes, limit)
    return ChordTuning(chord, limit, {(c + chord.root) % 12: ratio for c, ratio in found.items()})


def breath_notes(harp: Harp, breath: Breath) -> tuple[int, ...]:
    """MIDI notes of a breath's reeds from hole 1 up, with the slide out."""
    return tuple(harp.reed_midi(hole, breath) for hole in range(1, harp.tuning.holes + 1))


def _root(notes: tuple[int, ...], preferred: int) -> int:
    reeds = Counter(midi % 12 for midi in notes)

    def rank(candidate: int) -> tuple[int, bool, int, int]:
        support = sum(_SUPPORT.get((other - candidate) % 12, 0) for other in reeds)
        lowest = min(midi for midi in notes if midi % 12 == candidate)
        return support, candidate == preferred, reeds[candidate], -lowest

    return max(reeds, key=rank)


@lru_cache(maxsize=1)
def _choices() -> dict[int, dict[str, tuple[Fraction, ...]]]:
    """By limit and role the ratios that it may take, as the file lists them."""
    tables = tomllib.loads(_RATIOS.read_text(encoding="utf-8"))
    five = {role: tuple(map(Fraction, text.split())) for role, text in tables["five"].items()}
    more = {role: tuple(map(Fraction, text.split())) for role, text in tables["seven"].items()}
    return {5: five, 7: {role: ratios + more.get(role, ()) for role, ratios in five.items()}}


@lru_cache(maxsize=256)
def _simplest(notes: tuple[int, ...], limit: int) -> dict[int, Fraction]:
    """For notes (semitones above a root) by hole: the ratio of each pitch class.

    The sum of log2(m n) is compared as the product of all m n, which is exact.
    """
    classes = sorted({note % 12 for note in notes})
    choices = [_choices()[limit][ROLES[each]] for each in classes]
    place = {each: index for index, each in enumerate(classes)}
    pairs: Counter[tuple[int, int, int]] = Counter()
    for hole, one in enumerate(notes):
        for other in notes[hole + 1 : hole + WINDOW]:
            low, high = sorted((one, other))
            if low % 12 != high % 12:
                octaves = high // 12 - low // 12
                pairs[place[low % 12], place[high % 12], octaves] += 1

    @cache
    def height(low: Fraction, high: Fraction, octaves: int) -> int:
        ratio = high * Fraction(2) ** octaves / low
        return ratio.numerator * ratio.denominator

    def cost(taken: tuple[Fraction, ...]) -> tuple[int, int]:
        sounded = prod(
            height(taken[low], taken[high], octaves) ** times
            for (low, high, octaves), times in pairs.items()
        )
        # Where no pair decides, the simplest above the root.
        return sounded, prod(ratio.numerator * ratio.denominator for ratio in taken)

    best = min(product(*choices), key=cost)
    return dict(zip(classes, best, strict=True))
