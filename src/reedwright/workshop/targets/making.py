"""From a harp and what is wished to the target of every reed.

Public: `reed_targets`.
"""

from __future__ import annotations

from reedwright.harp.model import Breath, Harp, Reed
from reedwright.harp.naming import frequency
from reedwright.harp.temperament import find_temperament, offset
from reedwright.workshop.targets.model import ReedTarget, Targets, TargetWishes


def reed_targets(harp: Harp, wishes: TargetWishes | None = None) -> Targets:
    """The targets of all reeds of a harp."""
    wishes = wishes or TargetWishes()
    temperament = find_temperament(str(wishes.temperament))
    home = 60 + harp.transpose + 12  # the home note in the middle octave
    found = []
    for hole in range(1, harp.tuning.holes + 1):
        for breath in Breath:
            midi = harp.reed_midi(hole, breath)
            cents = offset(temperament, midi, harp) + wishes.stretch * (midi - home) / 12
            bench = cents + wishes.pressure
            found.append(
                ReedTarget(
                    Reed(hole, breath),
                    midi,
                    cents,
                    frequency(midi + cents / 100, wishes.a4),
                    bench,
                    frequency(midi + bench / 100, wishes.a4),
                )
            )
    return Targets(harp, wishes, tuple(found))
