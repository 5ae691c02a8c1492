"""Harps that could give a reed where retuning would go too far.

A reed must fit the slot: a longer or wider one does not go in, a shorter one leaks. Slots get
shorter from hole to hole, and the plates of low harps have longer ones than those of high harps.
How long they are is known only from memory (valving/data/slot-sizes.toml), so reeds are ranked by
how much they are off by that table and those far off refused; each is to be held to the slot before
anything else is done.
One of the same breath fits before one of the other plate. Reeds of low and high harps are made to
other measures more often than those of ordinary ones. Common practice, no source; the figures
are judgement.

Public: `Donors`, `donor_cost`, `fits`, `longer_mm`, `MEASURE_OVER`.
"""

from __future__ import annotations

from collections.abc import Iterable

from reedwright.harp.model import Breath, Harp, Reed
from reedwright.harp.naming import frequency
from reedwright.workshop.conversion.costs import moving_cost
from reedwright.workshop.conversion.model import Donor
from reedwright.workshop.valving.slots import size_range

MOST_HOLES_OFF = 2  # further up or down the slots are of another width, too
MOST_LEFT = 1  # semitones that a donor's reed may have to be retuned

# Millimetres by the table. Beyond the first it is to be measured before the donor is bought; the
# table has one size for several keys and is so rough at least. The second is the largest step from
# one of its ranges to the next.
MEASURE_OVER = 0.5
MOST_MM_OFF = 1.4
_ROUNDING = 1e-6  # mm

# Judgement, in the unit of `costs`. A short reed can be lived with, one too long does not go in.
A_MM_LONGER = 2.0
A_MM_SHORTER = 1.0
OTHER_BREATH = 0.25
OTHER_REGISTER = 0.25


def longer_mm(donor: Donor, harp: Harp, reed: Reed) -> float:
    """How much longer the donor's reed is than the slot of `reed` of `harp`; below 0: shorter.

    By the table of sizes from memory, as the valves are planned by.
    """
    return _length(donor.harp, donor.reed.hole) - _length(harp, reed.hole)


def fits(donor: Donor, harp: Harp, reed: Reed) -> bool:
    """Whether the donor's reed is likely to fit the slot of `reed` of `harp`."""
    return (
        donor.harp.tuning.holes == harp.tuning.holes
        and abs(donor.reed.hole - reed.hole) <= MOST_HOLES_OFF
        and abs(longer_mm(donor, harp, reed)) <= MOST_MM_OFF + _ROUNDING
    )


def donor_cost(donor: Donor, harp: Harp, reed: Reed) -> float:
    """What is left to do on the donor's reed in its new place: retuning and fitting."""
    own = donor.harp.reed_midi(*donor.reed)
    longer = longer_mm(donor, harp, reed)
    return (
        moving_cost(100 * donor.semitones, frequency(own))
        + (A_MM_LONGER if longer > 0 else A_MM_SHORTER) * abs(longer)
        + OTHER_BREATH * (donor.reed.breath is not reed.breath)
        + OTHER_REGISTER * (donor.harp.register != "ordinary")
    )


class Donors:
    """The harps that can be bought to take reeds from."""

    def __init__(self, harps: Iterable[Harp]) -> None:
        self.harps = tuple(dict.fromkeys(harps))
        self._known: dict[tuple[Reed, int, int, str], tuple[Donor, ...]] = {}
        # By holes, hole and note, in the order of the harps.
        self._reeds: dict[tuple[int, int, int], list[tuple[Harp, Reed]]] = {}
        for harp in self.harps:
            for hole in range(1, harp.tuning.holes + 1):
                for breath in Breath:
                    place = (harp.tuning.holes, hole, harp.reed_midi(hole, breath))
                    self._reeds.setdefault(place, []).append((harp, Reed(hole, breath)))

    def of(self, harp: Harp, reed: Reed, midi: int) -> tuple[Donor, ...]:
        """Reeds for this place of the harp that sound the note or a semitone beside it.

        Best first; of equal ones in the order of the harps given.
        """
        key = (reed, midi, harp.tuning.holes, size_range(harp).name)
        if key not in self._known:
            found = [
                donor
                for hole in range(reed.hole - MOST_HOLES_OFF, reed.hole + MOST_HOLES_OFF + 1)
                for left in range(-MOST_LEFT, MOST_LEFT + 1)
                for other, its in self._reeds.get((harp.tuning.holes, hole, midi - left), ())
                if fits(donor := Donor(other, its, left), harp, reed)
            ]
            found.sort(key=lambda donor: donor_cost(donor, harp, reed))
            self._known[key] = tuple(found)
        return self._known[key]


def _length(harp: Harp, hole: int) -> float:
    """Of the slot, mm."""
    return size_range(harp).at(hole, harp.tuning.holes).length
