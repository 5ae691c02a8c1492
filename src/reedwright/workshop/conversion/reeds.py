"""What has to happen to each reed, before order and words: from, to, kind of work, cost.

Public: `Draft`, `reed_drafts`, `swap_cost`, `MeasuredReedError`.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite, log2
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Harp, Reed
from reedwright.harp.naming import A4_MIDI
from reedwright.workshop.conversion.costs import (
    LEAST_CHANGE,
    LEEWAY,
    SWAP,
    SWAP_SEMITONES,
    WARN_OVER,
    retune_cost,
    touch_cost,
)
from reedwright.workshop.conversion.donors import Donors, donor_cost
from reedwright.workshop.conversion.model import Donor, Work
from reedwright.workshop.targets.model import Targets

# Cents; a reed that goes further is worked on as one that changes its note, though by pitch and
# temperament together the name of the note may stay.
MOST_TOUCHED = 50.0
MOST_OFF = 6.0  # semitones beside its note where a measured pitch is another reed's or octave's


class MeasuredReedError(ReedwrightError):
    """A measured pitch that cannot be that of the reed."""


class Draft(NamedTuple):
    """One reed's work. Fields as those of `ReedWork`; `cost` in the unit of `costs`."""

    reed: Reed
    work: Work
    from_midi: int
    to_midi: int
    from_hz: float
    to_hz: float
    cents: float
    cost: float
    semitones: float
    donors: tuple[Donor, ...] = ()


def reed_drafts(
    stock: Harp,
    at_first: Targets,
    targets: Targets,
    donors: Donors,
    swap_over: float,
    measured: Mapping[Reed, float] | None = None,
) -> tuple[Draft, ...]:
    """The reeds that need work, by hole, blow before draw.

    `at_first`: where the stock harp's reeds lie; `measured`: where some were found (Hz at the
    bench), which goes before. Raises `MeasuredReedError`.
    """
    measured = measured or {}
    _check(measured, at_first)
    # Notes are named by the wished A4: a harp at 415 Hz sounds a semitone lower at 440.
    shift = round(12 * log2(at_first.wishes.a4 / targets.wishes.a4))
    found = []
    for target in targets.reeds:
        was = at_first.of(target.reed)
        from_midi, from_hz = was.midi + shift, was.bench_hz
        if target.reed in measured:
            from_hz = measured[target.reed]
            # A reed that was retuned before sounds another note than such harps are sold with.
            from_midi = was.midi + round(_semitones(from_hz, was.midi, targets.wishes.a4))
        cents = 1200 * log2(target.bench_hz / from_hz)
        if from_midi == target.midi and abs(cents) < LEAST_CHANGE:
            continue
        giving: tuple[Donor, ...] = ()
        touch = from_midi == target.midi and abs(cents) <= MOST_TOUCHED
        if not touch and abs(cents) > 100 * min(swap_over, WARN_OVER) + LEEWAY:
            giving = donors.of(targets.harp, target.reed, target.midi)
        swap = bool(giving) and abs(cents) > 100 * swap_over + LEEWAY
        work = _work(touch, swap, cents)
        semitones = abs(cents) / 100
        if work is Work.SWAP:
            cost, semitones = swap_cost(giving[0], targets.harp, target.reed)
        elif work is Work.TOUCH:
            cost = touch_cost(cents, from_hz)
        else:
            cost = retune_cost(cents, from_hz)
        found.append(
            Draft(
                target.reed,
                work,
                from_midi,
                target.midi,
                from_hz,
                target.bench_hz,
                cents,
                cost,
                semitones,
                giving,
            )
        )
    return tuple(found)


def swap_cost(donor: Donor, harp: Harp, reed: Reed) -> tuple[float, float]:
    """What a swap costs with this donor, and what it counts as in a sum of semitones."""
    return SWAP + donor_cost(donor, harp, reed), SWAP_SEMITONES + abs(donor.semitones)


def _work(touch: bool, swap: bool, cents: float) -> Work:
    if touch:
        return Work.TOUCH
    if swap:
        return Work.SWAP
    return Work.RAISE if cents > 0 else Work.LOWER


def _semitones(hz: float, midi: int, a4: float) -> float:
    """How far a pitch lies above a note of equal temperament."""
    return 12 * log2(hz / a4) + A4_MIDI - midi


def _check(measured: Mapping[Reed, float], at_first: Targets) -> None:
    harp = at_first.harp
    for reed, hz in measured.items():
        name = f"hole {reed.hole} {reed.breath.value}"
        if not 1 <= reed.hole <= harp.tuning.holes:
            raise MeasuredReedError(
                f"measured reeds: there is no {name} on the {harp.name}; its holes are 1 to "
                f"{harp.tuning.holes}"
            )
        was = at_first.of(reed)
        if not (isfinite(hz) and hz > 0):
            raise MeasuredReedError(
                f"measured reeds: {hz} Hz for {name} is no pitch; give a number above 0, about "
                f"{was.bench_hz:.1f} Hz on this harp"
            )
        off = _semitones(hz, was.midi, at_first.wishes.a4)
        if abs(off) > MOST_OFF:
            raise MeasuredReedError(
                f"measured reeds: {hz:.2f} Hz for {name} lies {abs(off):.1f} semitones "
                f"{'above' if off > 0 else 'below'} the {was.bench_hz:.1f} Hz of the {harp.name}: "
                "another reed or another octave was heard, or it is another harp. Measure it again"
            )
