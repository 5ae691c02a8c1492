"""How large a valve is cut for its slot. Common practice and from memory; there is no source.

Assumed: one layer, a straight strip with parallel sides, glued at the slot's rivet end only. Its
pad lies on the plate between the slot and the rivet, its free end reaches past the slot's tip, and
it overlaps the slot on both sides, within what hole spacing and (inside of the harp) the comb's
chamber leave. Sizes are in millimetres, whole tenths.

Public: `cut_valve`, `SHORTEST_SLOT` and the constants of the rules.
"""

from __future__ import annotations

from math import floor

from reedwright.harp.model import Breath, Reed
from reedwright.workshop.valving.model import PlateMeasures, Slot, Valve

# All in mm, from memory.
SIDE_MARGIN = 0.6  # of the valve over the slot on each side
LEAST_SIDE_MARGIN = 0.3  # with less it slips into the slot or leaks
PAST_TIP = 0.8  # beyond the slot's free end
PAD = 2.0  # glued length, at the rivet end
LEAST_PAD = 1.0  # with less the glue lets go
RIVET_CLEARANCE = 0.3  # from pad to rivet
NEIGHBOUR_GAP = 0.8  # between valves of neighbouring holes, so that they do not touch
CHAMBER_CLEARANCE = 0.3  # from the valve's edge to the comb's wall
SHORTEST_SLOT = 10.0  # a shorter valve is too stiff to lift well and to fall back flat
STEP = 0.1  # what is cut to
TINY = 1e-9  # rounding


def cut_valve(slot: Slot, plates: PlateMeasures) -> Valve:
    """The valve that covers `slot`. Where there is too little room it is as large as fits,
    `fits` is false and its notes say why."""
    inside = slot.reed.breath is Breath.DRAW
    notes = []
    wished = slot.width + 2 * SIDE_MARGIN
    room = plates.hole_pitch - NEIGHBOUR_GAP
    in_the_way = "the valve of the next hole"
    if inside and plates.chamber_width - 2 * CHAMBER_CLEARANCE < room:
        room = plates.chamber_width - 2 * CHAMBER_CLEARANCE
        in_the_way = "the walls of the comb"
    width = min(_nearest(wished), _down(room))
    fits = (width - slot.width) / 2 > LEAST_SIDE_MARGIN - TINY
    if not fits:
        notes.append(
            f"Does not fit: {in_the_way} would be in the way of a valve that covers so wide a "
            "slot. Leave it out, or measure slot, hole spacing and comb again."
        )
    elif width < _nearest(wished):
        notes.append(f"Narrower than usual, to keep clear of {in_the_way}.")
    pad = max(LEAST_PAD, min(PAD, _down(plates.rivet_gap - RIVET_CLEARANCE)))
    if pad > plates.rivet_gap:
        notes.append(
            f"The rivet is {plates.rivet_gap:.1f} mm from the slot, too near for the pad: glue "
            "over it if it is flush with the plate, else leave this one out."
        )
    if slot.length < SHORTEST_SLOT:
        notes.append(
            "A short valve is stiff and hardly seals or lifts; reeds so high do well without."
        )
    length = pad + _nearest(slot.length + PAST_TIP)
    return Valve(
        slot=slot.reed,
        isolates=Reed(slot.reed.hole, slot.reed.breath.other),
        length=round(length, 1),
        width=width,
        inside=inside,
        measured=slot.measured,
        worked_out=slot.worked_out,
        pad=pad,
        fits=fits,
        notes=tuple(notes),
    )


def _nearest(size: float) -> float:
    return round(floor(size / STEP + 0.5) * STEP, 1)


def _down(size: float) -> float:
    return round(floor(size / STEP + TINY) * STEP, 1)
