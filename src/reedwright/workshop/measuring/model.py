"""The values of measuring: tones as they were heard, and reeds as they were named.

Public: `Beats`, `Tone`, `NamedTone`, `ReedMeasure`, `Measurement`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from reedwright.harp.model import Reed
from reedwright.workshop.targets.model import Targets


class Beats(NamedTuple):
    """Two reeds sounded together: the partials that nearly meet and how fast they beat.

    `rate` and `uncertainty` (one standard error) in Hz. `partials` (m, n): the m-th partial of
    the lower tone meets the n-th of the upper, (2, 1) in an octave, (1, 1) in a unison.
    """

    rate: float
    uncertainty: float
    partials: tuple[int, int]


@dataclass(frozen=True, slots=True)
class Tone:
    """One stretch of held sound, of one reed or of two together.

    `start` and `end` in seconds. `hz` is the pitch of the held part, `uncertainty` its standard
    error in cents, `wander` how far the pitch moves while it is held (standard deviation in
    cents; steadiness is its smallness). `attack` in seconds: from the first tenth to nine tenths
    of the held level. `level` in dBFS (RMS of the held part). `upper_hz` and
    `upper_uncertainty` are of the higher of two reeds (0 where there is one), `beats` theirs.
    `noise` is how far the sound stands above what is no partial of it, in dB.
    """

    start: float
    end: float
    hz: float
    uncertainty: float
    wander: float
    attack: float
    level: float
    noise: float
    upper_hz: float = 0.0
    upper_uncertainty: float = 0.0
    beats: Beats | None = None

    @property
    def seconds(self) -> float:
        return self.end - self.start


class NamedTone(NamedTuple):
    """A tone and the reed that it is taken for.

    `reed` is None where no reed of the harp is near. `upper` is the second reed of a pair.
    `others` are reeds that it could be as well (unisons that the order does not tell apart).
    `sure` (0 to 1) is how plainly it is this reed. `cents`: heard against the target, as it is
    to sound when played or at the bench, by `Measurement.at_bench`.
    """

    tone: Tone
    reed: Reed | None
    cents: float
    sure: float
    upper: Reed | None = None
    upper_cents: float = 0.0
    others: tuple[Reed, ...] = ()


@dataclass(frozen=True, slots=True)
class ReedMeasure:
    """One reed, from all its tones (those of one reed alone, weighed by their uncertainty).

    `cents` against target; `uncertainty` in cents (standard error, with what differs between
    tones). `level_beside` in dB and `attack_beside` (a ratio) compare with the mean of the
    neighbours in the same breath that were heard; None where none was.
    """

    reed: Reed
    tones: int
    hz: float
    cents: float
    uncertainty: float
    wander: float
    attack: float
    level: float
    level_beside: float | None = None
    attack_beside: float | None = None
    others: tuple[Reed, ...] = ()


@dataclass(frozen=True, slots=True)
class Measurement:
    """A recording of reeds against a harp's targets.

    `shift`: cents by which the whole harp lies from its targets (the median), which was allowed
    for when reeds were named; `cents` of reeds and tones are not corrected by it. `missing`
    are reeds that were not heard. `at_bench`: whether `cents` count from the bench targets.
    `order`: in words, the order that the reeds were sounded in ("hole by hole, blow first, up").
    """

    targets: Targets
    tones: tuple[NamedTone, ...]
    reeds: tuple[ReedMeasure, ...]
    missing: tuple[Reed, ...]
    shift: float
    at_bench: bool = True
    order: str = ""
