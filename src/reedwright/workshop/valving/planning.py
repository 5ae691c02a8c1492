"""The plan: which slots are covered so that the wished reeds are isolated, and by what valves.

Public: `plan_valves`.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from reedwright.harp.model import Breath, Harp, Reed
from reedwright.workshop.changes import hole_changes
from reedwright.workshop.valving.cutting import SHORTEST_SLOT, cut_valve
from reedwright.workshop.valving.model import (
    PlateMeasures,
    Slot,
    SlotSizes,
    Valve,
    ValveError,
    ValvePlan,
    listed_valves,
)
from reedwright.workshop.valving.slots import size_range, slots_of

LONG_VALVE = 19.0  # mm; longer ones swing far enough to meet a low cover (from memory)


def plan_valves(harp: Harp, sizes: SlotSizes | None = None) -> ValvePlan:
    """A valve for every reed that is isolated on `harp`, by the slot sizes that are known.

    The blow plate comes first, hole by hole, then the draw plate. Raises `ValveError` for a
    harp with a slide, whose plates hold reeds of both breaths, and for sizes of another harp.
    """
    if harp.tuning.slide:
        raise ValveError(
            f"{harp.name}: the plates of a harp with a slide hold blow and draw reeds side by "
            "side, two for each hole, and are valved when made; plans are for harps without one"
        )
    given = sizes or SlotSizes()
    slots = slots_of(harp, given)
    valves = tuple(
        cut_valve(slot, given.plates)
        for slot in slots
        if Reed(slot.reed.hole, slot.reed.breath.other) in harp.isolated
    )
    bare = replace(harp, isolated=frozenset())
    # As it will be: a reed whose valve cannot be made stays as it is.
    done = replace(harp, isolated=frozenset(valve.isolates for valve in valves if valve.fits))
    return ValvePlan(
        harp=done,
        valves=valves,
        changes=hole_changes(bare, done),
        notes=_notes(harp, slots, valves, given),
        slots=slots,
        plates=given.plates,
    )


def _notes(
    harp: Harp, slots: tuple[Slot, ...], valves: tuple[Valve, ...], sizes: SlotSizes
) -> tuple[str, ...]:
    """What the user should know, the gravest first."""
    if not valves:
        return ("No reed is to be valved; name some, such as half, or blow 1-6.",)
    notes = []
    if sizes.slots and sizes.title:
        notes.append(f"Slots as they were measured: {sizes.title}.")
    guessed = [valve for valve in valves if not (valve.measured or valve.worked_out)]
    worked_out = [valve for valve in valves if valve.worked_out]
    if guessed:
        notes.append(
            f"Slot sizes are from memory, for {size_range(harp).name} of no make in particular. "
            "Measure before you cut."
        )
    if worked_out:
        notes.append(
            f"Not measured but worked out from slots that were: {listed_valves(worked_out)}. "
            "Check one or two before you cut."
        )
    unfit = [valve for valve in valves if not valve.fits]
    if unfit:
        notes.append(
            f"No valve that seals fits over {listed_valves(unfit)}; none is to be cut there."
        )
    notes += _unsteady(slots)
    notes += _about_plates(valves, sizes.plates)
    short = [v for v in valves if any(s.reed == v.slot and s.length < SHORTEST_SLOT for s in slots)]
    if short:
        notes.append(
            f"Slots under {SHORTEST_SLOT:.0f} mm are hard to valve, and high reeds do well "
            f"without; think of leaving out: {listed_valves(short)}."
        )
    equal = [
        hole
        for hole in range(1, harp.tuning.holes + 1)
        if harp.reed_midi(hole, Breath.BLOW) == harp.reed_midi(hole, Breath.DRAW)
    ]
    if equal and harp.valving == "half-valved":
        holes = " ".join(map(str, equal))
        notes.append(f"Blow and draw are the same note in hole {holes}: half-valving leaves it.")
    return tuple(notes)


def _unsteady(slots: tuple[Slot, ...]) -> list[str]:
    """Slots get shorter from hole 1 up; where a measured one does not, it may be a slip."""
    measured = [slot for slot in slots if slot.measured]
    return [
        f"The {high.reed.breath.value} slot of hole {high.reed.hole} ({high.length:.1f} mm) was "
        f"measured longer than that of hole {low.reed.hole} ({low.length:.1f} mm); measure again."
        for low, high in pairwise(measured)
        if low.reed.breath is high.reed.breath and high.length > low.length
    ]


def _about_plates(valves: tuple[Valve, ...], plates: PlateMeasures) -> list[str]:
    notes = []
    inside = [valve for valve in valves if valve.inside]
    if inside:
        notes.append(
            "Valves over draw slots lie in the chambers of the comb, pad and all. Hold the plate "
            "to the comb before you glue: where a wall or the chamber's end would pinch a valve, "
            "trim it."
        )
    if any(not valve.inside and valve.length > LONG_VALVE for valve in valves):
        notes.append(
            "Valves over long blow slots swing out far. See that the cover leaves them room."
        )
    untold = {
        "hole_pitch": f"{plates.hole_pitch:.1f} mm from hole to hole",
        "rivet_gap": f"{plates.rivet_gap:.1f} mm from slot to rivet",
    }
    if inside:
        untold["chamber_width"] = f"chambers {plates.chamber_width:.1f} mm wide"
    words = [word for name, word in untold.items() if name not in plates.told]
    if words:
        notes.append(f"From memory, check against the plate: {', '.join(words)}.")
    sides = {valve.plate for valve in valves}
    ends = [
        f"{plate.value} reeds at the {plates.rivets(plate).value}"
        for plate in Breath
        if plate in sides and f"{plate.value}_rivets" not in plates.told
    ]
    if ends:
        notes.append(
            f"Taken from memory to be riveted: {', '.join(ends)} of the harp (the front is the "
            "mouthpiece). If yours are riveted at the other end, glue at that end."
        )
    return notes
