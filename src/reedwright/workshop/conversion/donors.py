"""Harps that could give a reed where retuning would go too far.

A reed must fit the slot. Slots get shorter from hole to hole, and harps of one make have the same
plates in all keys (common practice, no source): so a reed from the same hole fits, one from
the next hole nearly. One of the same breath fits before one of the other plate of the
hole. Reeds of low and high harps are made to other measures more often than those of ordinary ones.

Public: `Donors`, `donor_cost`, `fits`.
"""

from __future__ import annotations

from collections.abc import Iterable

from reedwright.harp.model import Breath, Harp, Reed
from reedwright.harp.naming import frequency
from reedwright.workshop.conversion.costs import moving_cost
from reedwright.workshop.conversion.model import Donor

MOST_HOLES_OFF = 1
MOST_LEFT = 1  # semitones that a donor's reed may have to be retuned

# Judgement, in the unit of `costs`.
OTHER_HOLE = 0.5
OTHER_BREATH = 0.25
OTHER_REGISTER = 0.25


def fits(donor: Donor, harp: Harp, reed: Reed) -> bool:
    """Whether the donor's reed is likely to fit the slot of `reed` of `harp`."""
    return (
        donor.harp.tuning.holes == harp.tuning.holes
        and abs(donor.reed.hole - reed.hole) <= MOST_HOLES_OFF
    )


def donor_cost(donor: Donor, reed: Reed) -> float:
    """What is left to do on the donor's reed in its new place: retuning and fitting."""
    own = donor.harp.reed_midi(*donor.reed)
    return (
        moving_cost(100 * donor.semitones, frequency(own))
        + OTHER_HOLE * abs(donor.reed.hole - reed.hole)
        + OTHER_BREATH * (donor.reed.breath is not reed.breath)
        + OTHER_REGISTER * (donor.harp.register != "ordinary")
    )


class Donors:
    """The harps that can be bought to take reeds from."""

    def __init__(self, harps: Iterable[Harp]) -> None:
        self._known: dict[tuple[Reed, int, int], tuple[Donor, ...]] = {}
        # By holes, hole and note, in the order of the harps.
        self._reeds: dict[tuple[int, int, int], list[tuple[Harp, Reed]]] = {}
        for harp in dict.fromkeys(harps):
            for hole in range(1, harp.tuning.holes + 1):
                for breath in Breath:
                    place = (harp.tuning.holes, hole, harp.reed_midi(hole, breath))
                    self._reeds.setdefault(place, []).append((harp, Reed(hole, breath)))

    def of(self, harp: Harp, reed: Reed, midi: int) -> tuple[Donor, ...]:
        """Reeds for this place of the harp that sound the note or a semitone beside it.

        Best first; of equal ones in the order of the harps given.
        """
        key = (reed, midi, harp.tuning.holes)
        if key not in self._known:
            found = [
                Donor(other, its, left)
                for hole in range(reed.hole - MOST_HOLES_OFF, reed.hole + MOST_HOLES_OFF + 1)
                for left in range(-MOST_LEFT, MOST_LEFT + 1)
                for other, its in self._reeds.get((harp.tuning.holes, hole, midi - left), ())
            ]
            found.sort(key=lambda donor: donor_cost(donor, reed))
            self._known[key] = tuple(found)
        return self._known[key]
