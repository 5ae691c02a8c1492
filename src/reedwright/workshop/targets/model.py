"""The values of targets: what is wished for, and what follows for each reed.

Cents are counted from equal temperament at the wished A4 (ISO 16:1975: 440 Hz). `hz` is what is
to sound when the harp is played; `bench_hz` what to tune to at the bench, where the breath (or
the bellows) is gentler and a reed sounds sharper than when it is played.

Public: `TargetWishes`, `BeatWish`, `Width`, `ReedTarget`, `Targets`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import NamedTuple

from reedwright.harp.model import Harp, Reed
from reedwright.harp.naming import A4_HZ

LOWEST_A4, HIGHEST_A4 = 438.0, 446.0  # Hz; what harps are tuned to (common practice, no source)


class Width(StrEnum):
    """On which side of pure a pair of reeds is to beat."""

    NEARER = "nearer"  # where the pair is now, as far as the reed can go there
    WIDE = "wide"
    NARROW = "narrow"


class BeatWish(NamedTuple):
    """Two reeds of one breath that are to beat `rate` times a second as played; `moved` is set."""

    fixed: Reed
    moved: Reed
    rate: float
    width: Width = Width.NEARER


@dataclass(frozen=True, slots=True)
class TargetWishes:
    """How a harp is to be tuned.

    `temperament` is a name (`harp.temperament`, or one that `targets` adds, such as those that
    are chosen for each reed by its role in the chords), or the path of a table of cents by reed.
    `a4` in Hz. `pressure`: cents by which reeds sound flatter played than at the bench, 0 or
    more. `stretch`: cents added for each octave above the harp's home note (blow 4 on Richter).
    `beats` are pairs that are to beat as chosen; they are set one after another, as the last step.
    """

    temperament: str | Path = "equal"
    a4: float = A4_HZ
    pressure: float = 0.0
    stretch: float = 0.0
    beats: tuple[BeatWish, ...] = ()


class ReedTarget(NamedTuple):
    """One reed's target.

    `midi` is its note; `cents` how far from equal temperament it is to sound when played
    (temperament and stretch); `hz` that pitch; `bench_cents` and `bench_hz` the same with the
    offset for pressure: what to tune to. `role` says what the reed is in its chord, in words
    for people (`third of the blow chord`), or is empty.
    """

    reed: Reed
    midi: int
    cents: float
    hz: float
    bench_cents: float
    bench_hz: float
    role: str = ""


@dataclass(frozen=True, slots=True)
class Targets:
    """Targets of every reed of a harp, by hole, blow before draw."""

    harp: Harp
    wishes: TargetWishes
    reeds: tuple[ReedTarget, ...]

    def of(self, reed: Reed) -> ReedTarget:
        """The target of one reed. Raises `KeyError` where the harp has no such reed."""
        for target in self.reeds:
            if target.reed == reed:
                return target
        raise KeyError(reed)
