"""A slot file to fill in: what `reading` reads, with the sizes from memory as comments.

Public: `slot_form`.
"""

from __future__ import annotations

import json

from reedwright.harp.model import Breath, Harp
from reedwright.workshop.valving.model import PlateMeasures
from reedwright.workshop.valving.slots import size_range, slots_of

_HEAD = """\
# Reed slots of the {name}, in mm. Measure, correct the number, and take the # away; what keeps
# its # stays unknown. Two or three slots of each plate will do: the others are worked out.
# The numbers are from memory, for {range} of no make in particular.
title = {title}
# hole_pitch = {pitch}  # from the middle of a hole to the middle of the next
# rivet_gap = {gap}  # from the slot's end to the rivet, on the side without reeds
# chamber_width = {chamber}  # of the comb, from wall to wall
# blow_rivets = "{blow}"  # where blow reeds are riveted: front (the mouthpiece) or back
# draw_rivets = "{draw}"
"""


def slot_form(harp: Harp) -> str:
    """The text of a TOML file for this harp, with a line for every slot."""
    plates = PlateMeasures()
    lines = [
        _HEAD.format(
            name=harp.name,
            title=json.dumps(harp.name, ensure_ascii=False),  # as TOML quotes text, too
            range=size_range(harp).name,
            pitch=plates.hole_pitch,
            gap=plates.rivet_gap,
            chamber=plates.chamber_width,
            blow=plates.blow_rivets.value,
            draw=plates.draw_rivets.value,
        )
    ]
    slots = slots_of(harp)
    for plate in Breath:
        lines.append(f"[{plate.value}]  # hole = [length, width]")
        lines += [
            f"# {slot.reed.hole} = [{slot.length:.1f}, {slot.width:.1f}]"
            for slot in slots
            if slot.reed.breath is plate
        ]
        lines.append("")
    return "\n".join(lines)
