"""Rows of reeds as people play them at the bench, with what is true of each: symbolic tones.

The orders and slips are written here anew, from what people do, and share nothing with the
model that names the reeds. Cents, seconds, Hz.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import NamedTuple

import numpy as np

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Harp, Reed
from reedwright.harp.naming import KEYS
from reedwright.workshop.measuring.model import Measurement, Tone
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.targets.model import Targets, TargetWishes

TUNINGS = (
    "richter",
    "richter-raised-3-blow",
    "richter-raised-5-draw",
    "richter-lowered-7-draw",
    "natural-minor",
    "harmonic-minor",
    "solo",
)
HARP_SHIFT, REED_OFF, MOST_OFF = 8.0, 15.0, 45.0  # standard deviations; the farthest single reed
UNCERTAINTY, SCATTER = 0.3, 1.0  # of one tone; between tones of one reed
LEFT_OUT, AGAIN, BACK, STRAY = 0.03, 0.05, 0.02, 0.02  # how often, for each reed


class PlayedRow(NamedTuple):
    """What was played: the truth of each tone (None: a stray sound), and cents of each reed."""

    targets: Targets
    tones: tuple[Tone, ...]
    truth: tuple[Reed | None, ...]
    off: dict[Reed, float]
    family: str = ""


def _holes(harp: Harp) -> list[int]:
    return list(range(1, harp.tuning.holes + 1))


B, D = Breath.BLOW, Breath.DRAW
FAMILIES: dict[str, Callable[[list[int]], list[Reed]]] = {
    "hole by hole, blow then draw": lambda h: [Reed(k, b) for k in h for b in (B, D)],
    "hole by hole, draw then blow": lambda h: [Reed(k, b) for k in h for b in (D, B)],
    "hole by hole from the top": lambda h: [Reed(k, b) for k in h[::-1] for b in (B, D)],
    "from the top, draw then blow": lambda h: [Reed(k, b) for k in h[::-1] for b in (D, B)],
    "all blow, then all draw": lambda h: [Reed(k, b) for b in (B, D) for k in h],
    "all draw, then all blow": lambda h: [Reed(k, b) for b in (D, B) for k in h],
    "all blow, then all draw, from the top": lambda h: [
        Reed(k, b) for b in (B, D) for k in h[::-1]
    ],
    "blow up, draw down": lambda h: [Reed(k, B) for k in h] + [Reed(k, D) for k in h[::-1]],
    "turning in every hole": lambda h: [
        Reed(k, b) for n, k in enumerate(h) for b in ((B, D) if n % 2 == 0 else (D, B))
    ],
}


def slips(row: Iterable[Reed], random: np.random.Generator) -> list[Reed | None]:
    """A row with reeds left out, sounded again, gone back to, and stray sounds (None)."""
    found: list[Reed | None] = []
    done: list[Reed] = []
    for reed in row:
        if random.random() < STRAY:
            found.append(None)
        if random.random() < LEFT_OUT:
            continue
        found.append(reed)
        done.append(reed)
        while random.random() < AGAIN:
            found.append(reed)
        if len(done) > 3 and random.random() < BACK:
            # Back by one to three, and on again from there.
            found += done[-1 - int(random.integers(1, 4)) :]
    return found


def tones_of(
    truth: Iterable[Reed | None],
    targets: Targets,
    random: np.random.Generator,
    shift: float | None = None,
    reed_off: float | None = None,
    at_bench: bool = True,
) -> tuple[tuple[Tone, ...], dict[Reed, float]]:
    """A tone for each of the row; the whole harp is off by `shift`, each reed by its own."""
    common = random.normal(0, HARP_SHIFT) if shift is None else shift
    width = REED_OFF if reed_off is None else reed_off
    off: dict[Reed, float] = {}
    for target in targets.reeds:
        own = random.normal(0, width)
        while abs(own) > MOST_OFF:
            own = random.normal(0, width)
        off[target.reed] = common + own
    found: list[Tone] = []
    for k, reed in enumerate(truth):
        if reed is None:
            hz = _nobodys(targets, common, random)
        else:
            target = targets.of(reed)
            cents = off[reed] + random.normal(0, SCATTER) + random.normal(0, UNCERTAINTY)
            hz = (target.bench_hz if at_bench else target.hz) * 2 ** (cents / 1200)
        found.append(plain_tone(hz, 1.5 * k))
    return tuple(found), off


def plain_tone(hz: float, start: float = 0.0, uncertainty: float = UNCERTAINTY) -> Tone:
    """A second of tone with nothing remarkable."""
    return Tone(start, start + 1.0, hz, uncertainty, 1.0, 0.03, -20.0, 30.0)


def _nobodys(targets: Targets, common: float, random: np.random.Generator) -> float:
    """A pitch between 150 and 3000 Hz, 80 cents or more from every reed (else no stray sound)."""
    while True:
        hz = float(150 * 20 ** random.random())
        away = [abs(1200 * np.log2(hz / each.hz) - common) for each in targets.reeds]
        if min(away) > 80:
            return hz


def row_as_played(seed: int, family: str | None = None) -> PlayedRow:
    """One of the families on some harp, with its slips."""
    random = np.random.default_rng(seed)
    targets = some_targets(random)
    name = family or str(random.choice(list(FAMILIES)))
    truth = slips(FAMILIES[name](_holes(targets.harp)), random)
    tones, off = tones_of(truth, targets, random)
    return PlayedRow(targets, tones, tuple(truth), off, name)


def row_shuffled(seed: int) -> PlayedRow:
    """Every reed of some harp once, in any order, some twice, some left out, stray sounds."""
    random = np.random.default_rng(seed)
    targets = some_targets(random)
    reeds = [each.reed for each in targets.reeds]
    row: list[Reed | None] = [reed for reed in reeds if random.random() > LEFT_OUT]
    row += [reed for reed in reeds if random.random() < AGAIN]
    row += [None] * int(random.poisson(STRAY * len(row)))
    random.shuffle(row)  # type: ignore[arg-type]
    tones, off = tones_of(row, targets, random)
    return PlayedRow(targets, tones, tuple(row), off, "shuffled")


def some_targets(random: np.random.Generator) -> Targets:
    harp = make_harp(str(random.choice(KEYS)), str(random.choice(TUNINGS)))
    a4 = float(random.choice([440.0, 442.0, 443.0]))
    temperament = str(random.choice(["equal", "just", "compromise"]))
    return reed_targets(harp, TargetWishes(temperament, a4))


class Count(NamedTuple):
    """Of `tones` that are a reed's: named right; named so or among the others; strays: of how
    many stray sounds how many were given to no reed."""

    tones: int
    right: int
    near: int
    strays: int
    left_alone: int

    def __add__(self, other: object) -> Count:
        assert isinstance(other, Count)
        return Count(*(a + b for a, b in zip(self, other, strict=True)))


def count(row: PlayedRow, measurement: Measurement) -> Count:
    right = near = tones = strays = alone = 0
    for reed, named in zip(row.truth, measurement.tones, strict=True):
        if reed is None:
            strays += 1
            alone += named.reed is None
            continue
        tones += 1
        right += named.reed == reed
        near += named.reed == reed or (reed in named.others)
    return Count(tones, right, near, strays, alone)
