"""The target that makes a pair of reeds beat at a chosen rate.

Of two reeds one stays and the other is moved until their partials m and n differ by the rate. There
are two answers, one on either side of pure. They are exact for the harp as it is played; the
target at the bench follows from it by the offset for pressure.

Public: `BeatAnswer`, `beat_answers`, `target_for_beats`, `Side`.
"""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from math import isfinite, log2
from typing import NamedTuple

from reedwright.harp.model import Reed
from reedwright.harp.naming import frequency
from reedwright.workshop.targets.beats import PairBeats, beats_of
from reedwright.workshop.targets.checking import TargetError
from reedwright.workshop.targets.intervals import MET_SEMITONES, MOST_PARTIAL
from reedwright.workshop.targets.model import ReedTarget, Targets

# Quicker than this, beats are no longer counted but heard as roughness (textbooks of tuning).
MOST_RATE = 20.0
MOST_CENTS = 100.0  # from its note; beyond that a reed would be another note
_NOTHING_HZ = 1e-6  # within which a pair is exactly pure but for rounding


class Side(StrEnum):
    """Which of the two answers."""

    NEARER = "nearer"  # on the side of pure where the reed is now; of a pure pair the sharper
    SHARPER = "sharper"
    FLATTER = "flatter"


class BeatAnswer(NamedTuple):
    """Where the moved reed goes, how far from where it was (cents, above 0: sharper), and the beats
    of the pair then."""

    target: ReedTarget
    moved: float
    beats: PairBeats


def beat_answers(
    targets: Targets,
    pair: tuple[Reed, Reed],
    rate: float,
    moved: Reed,
    partials: tuple[int, int] | None = None,
) -> tuple[BeatAnswer, ...]:
    """Both answers, the flatter first; at a rate of 0 they are one and the same, twice.

    Where one of them lies more than 100 cents from the reed's note, the other alone. `rate` in
    beats a second, 0 to 20, as played. `partials` (m, n) where others than those of the nearest
    simple ratio are to beat. Raises `TargetError`, also where there is no answer.
    """
    both = _both(targets, pair, rate, moved, partials)
    answers = tuple(each for each in both if isinstance(each, BeatAnswer))
    if answers:
        return answers
    raise min((each for each in both if isinstance(each, _TooFar)), key=lambda each: each.cents)


class _TooFar(TargetError):
    """An answer that would be another note; `cents` from its own (0 or more)."""

    def __init__(self, reed: Reed, cents: float) -> None:
        self.cents = cents
        super().__init__(
            f"{reed.hole} {reed.breath.value} would go {cents:.0f} cents from its note; choose a "
            "slower rate, other partials, or move the other reed"
        )


def _both(
    targets: Targets,
    pair: tuple[Reed, Reed],
    rate: float,
    moved: Reed,
    partials: tuple[int, int] | None,
) -> tuple[BeatAnswer | _TooFar, BeatAnswer | _TooFar]:
    """The flatter and the sharper answer, or what is wrong with either."""
    if not isfinite(rate) or not 0 <= rate <= MOST_RATE:
        raise TargetError(
            f"a rate of {rate:g} beats a second is none that can be set; give 0 (pure) to "
            f"{MOST_RATE:g}: quicker beats are heard as roughness"
        )
    if (
        partials is not None
        and partials not in MET_SEMITONES
        and not all(1 <= each <= MOST_PARTIAL for each in partials)
    ):
        raise TargetError(
            f"partials {partials[0]}:{partials[1]} are not heard in a reed; give two numbers from "
            f"1 to {MOST_PARTIAL}"
        )
    if moved not in pair:
        raise TargetError(
            f"{moved.hole} {moved.breath.value} is none of the pair; move "
            + " or ".join(f"{reed.hole} {reed.breath.value}" for reed in pair)
        )
    now = beats_of(targets, *pair, partials=partials)
    m, n = now.partials
    found = []
    for wide in (-rate, rate):
        if moved == now.upper:
            hz = (m * targets.of(now.lower).hz + wide) / n
        else:
            hz = (n * targets.of(now.upper).hz - wide) / m
        found.append(_answer(targets, now, moved, hz))
    return (found[0], found[1]) if moved == now.upper else (found[1], found[0])


def target_for_beats(
    targets: Targets,
    pair: tuple[Reed, Reed],
    rate: float,
    moved: Reed,
    side: Side | str = Side.NEARER,
    partials: tuple[int, int] | None = None,
) -> Targets:
    """The same targets with one reed moved, so that the pair beats `rate` times a second.

    Of the two answers the one nearer to where the reed is now (the other where that one is too far
    from the reed's note), or the one asked for. Raises `TargetError`.
    """
    try:
        wanted = Side(side)
    except ValueError:
        raise TargetError(f"'{side}' is no side; give {', '.join(Side)}") from None
    flatter, sharper = _both(targets, pair, rate, moved, partials)
    if wanted is Side.NEARER:
        possible = beat_answers(targets, pair, rate, moved, partials)
        now = beats_of(targets, *pair, partials=possible[-1].beats.partials).rate
        sharp = (now > 0) == (possible[-1].beats.rate > 0) or abs(now) < _NOTHING_HZ
        return with_target(targets, possible[-1 if sharp else 0].target)
    found = sharper if wanted is Side.SHARPER else flatter
    if isinstance(found, _TooFar):
        raise found
    return with_target(targets, found.target)


def with_target(targets: Targets, target: ReedTarget) -> Targets:
    """The same targets with one reed's replaced."""
    reeds = tuple(target if each.reed == target.reed else each for each in targets.reeds)
    return replace(targets, reeds=reeds)


def _answer(targets: Targets, now: PairBeats, moved: Reed, hz: float) -> BeatAnswer | _TooFar:
    before = targets.of(moved)
    cents = 1200 * log2(hz / frequency(before.midi, targets.wishes.a4)) if hz > 0 else -1e9
    if abs(cents) > MOST_CENTS:
        return _TooFar(moved, abs(cents))
    bench = cents + targets.wishes.pressure
    # The pitch is kept as it was worked out, so that the rate is met to the last figure.
    target = before._replace(
        role=before.role.partition(",")[0],  # no longer the pure ratio that stood behind it
        cents=cents,
        hz=hz,
        bench_cents=bench,
        bench_hz=hz * 2 ** (targets.wishes.pressure / 1200),
    )
    beats = beats_of(with_target(targets, target), now.lower, now.upper, now.kind, now.partials)
    return BeatAnswer(target, cents - before.cents, beats)
