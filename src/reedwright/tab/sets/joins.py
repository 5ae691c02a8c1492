"""How well one tune goes after another in a set, wish by wish, and the words for it.

All of it is common practice as told in sessions, from memory and no source; figures are judgement.
Each figure lies between 0 (good) and 1 (bad) and is multiplied by its weight.

Public: `Place`, `may_follow`, `join_parts`, `join_cost`, `join_words`, `KEY_STEPS`.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from reedwright.harp.model import Harp
from reedwright.tab.sets.rules import SetRules
from reedwright.tab.sets.traits import Traits, family_of

# Semitones from tonic up to tonic: how little the step lifts, and what it is called.
KEY_STEPS: dict[int, tuple[float, str]] = {
    2: (0.0, "up a tone"),
    7: (0.0, "up a fifth"),
    5: (0.1, "up a fourth"),
    9: (0.3, "down a third"),
    3: (0.3, "up a third"),
    4: (0.5, "up a third"),
    10: (0.5, "down a tone"),
}
OTHER_STEP = (1.0, "to a far key")
SAME_KEY = (0.6, "in the same key")
SAME_TONIC = (0.0, "on the same tonic in another mode")
NO_KEY = (0.5, "")

TEMPO_FAR = 0.15  # share; tunes that far apart in speed are a jolt
ALIKE = 0.75  # share of the first steps that are the same: they begin alike

# Semitones from the last note to the first of the next: how hard the join is to hear and to find.
JOINS = {6: 1.0, 8: 0.3, 9: 0.3, 10: 0.7, 11: 0.7}
WIDEST_JOIN = 12

WORK_SCALE = 2.0  # effort a second; between an easy and a middling tune


class Place(NamedTuple):
    """A tune as it would be played: its traits, harp, how far it is moved (semitones, octaves
    counted in), its effort a note and a second (one time through)."""

    traits: Traits
    harp: Harp
    moved: int
    effort: float
    work: float

    @property
    def tonic(self) -> int:
        return -1 if self.traits.tonic < 0 else (self.traits.tonic + self.moved) % 12


def may_follow(one: Traits, two: Traits, rules: SetRules) -> bool:
    """Whether the types may stand together, in this order."""
    if one.type == two.type:
        return True
    return any(
        (family_of(first) or first, family_of(second) or second) == (one.type, two.type)
        for first, second in rules.mixed
    )


def join_parts(one: Place, two: Place, rules: SetRules) -> dict[str, float]:
    """What each wish costs from one tune to the next, weighted, by the weight's name."""
    weights = rules.weights
    return {
        "harp_change": weights.harp_change * (one.harp != two.harp),
        "key": weights.key * key_step(one, two)[0],
        "mode": weights.mode * (one.traits.minor == two.traits.minor),
        "tempo": weights.tempo * _tempo(one.traits, two.traits),
        "alike": weights.alike * begin_alike(one.traits, two.traits),
        "join": weights.join * _melodic(one, two),
        "rising": weights.rising * falls(one, two, rules),
    }


def join_cost(one: Place, two: Place, rules: SetRules) -> float:
    """The sum of `join_parts`."""
    return sum(join_parts(one, two, rules).values())


def key_step(one: Place, two: Place) -> tuple[float, str]:
    """How little the step from key to key lifts (0 to 1), and its words."""
    if one.tonic < 0 or two.tonic < 0:
        return NO_KEY
    up = (two.tonic - one.tonic) % 12
    if up == 0:
        return SAME_KEY if one.traits.mode == two.traits.mode else SAME_TONIC
    return KEY_STEPS.get(up, OTHER_STEP)


def _tempo(one: Traits, two: Traits) -> float:
    return min(1.0, abs(math.log(two.speed / one.speed)) / math.log(1 + TEMPO_FAR))


def begin_alike(one: Traits, two: Traits) -> bool:
    """Whether most of their first steps are the same, in the same places."""
    length = min(len(one.opening), len(two.opening))
    if not length:
        return False
    same = sum(a == b for a, b in zip(one.opening, two.opening, strict=False))
    return same >= ALIKE * length


def _melodic(one: Place, two: Place) -> float:
    leap = abs((two.traits.first + two.moved) - (one.traits.last + one.moved))
    return 1.0 if leap > WIDEST_JOIN else JOINS.get(leap, 0.0)


def falls(one: Place, two: Place, rules: SetRules) -> float:
    """How far the work falls where it is to rise, 0 to 1."""
    if rules.hardest == "any":
        return 0.0
    fall = one.work - two.work if rules.hardest == "last" else two.work - one.work
    return min(1.0, max(0.0, fall / WORK_SCALE))


def join_words(one: Place, two: Place, rules: SetRules) -> str:
    """Why the second stands after the first: what is good about it, then what is not."""
    parts = join_parts(one, two, rules)
    words = key_step(one, two)[1]
    said = [words] if words else []
    said.append("same harp" if one.harp == two.harp else f"change to the {two.harp.name}")
    if one.traits.minor != two.traits.minor:
        said.append("into the minor" if two.traits.minor else "into the major")
    if one.traits.type != two.traits.type:
        said.append(f"from {one.traits.type} to {two.traits.type}")
    but = []
    if parts["tempo"] > 0 and _tempo(one.traits, two.traits) >= 1.0:
        but.append("another speed")
    if parts["alike"]:
        but.append("they begin alike")
    if parts["join"] and _melodic(one, two) >= 1.0:
        but.append("the first note is hard to find from the last")
    return ", ".join(said) + (f"; but {' and '.join(but)}" if but else "")
