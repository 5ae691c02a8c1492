"""What is said of cutting, gluing and trying valves, and the cautions that belong to it.

Common practice in workshops, no source.

Public: `STEPS`, `VALVE_CAUTIONS`.
"""

from __future__ import annotations

STEPS: tuple[str, ...] = (
    "Print at 100 % (“actual size”, no fitting to the page) and lay a ruler on both bars. If either "
    "is off, do not cut: the printer has changed the size.",
    "Lay one valve’s outline on its slot before you cut them all.",
    "Lay the film over the sheet, or fix the sheet to it, and cut along the middle of the lines. Keep "
    "the order: each valve fits one slot.",
    "Clean the plate with alcohol where the pads go. Put a little glue on the hatched end only, lay the "
    "valve straight over its slot, and press the pad for a moment. Glue that creeps into the slot "
    "stops the reed.",
    "Every valve must lie flat on the plate, touch no neighbour, and lift with a breath. One that "
    "stands open buzzes; one that sticks chokes the reed.",
    "When the glue has set, put the harp together loosely and try each reed, softly and loudly, "
    "before you turn the screws home.",
)
VALVE_CAUTIONS: tuple[str, ...] = (
    "A sharp knife slips: cut along a steel ruler, on a mat, away from the hand that holds.",
    "Glue gives off fumes, and some glues bond skin in seconds: window open, a drop at a time, off the "
    "skin and out of the eyes. Follow what is printed on it, and let it set wholly before the harp "
    "comes near your mouth.",
    "A loose valve can be breathed in. Tug gently at each one, and blow through every hole before "
    "you draw.",
)
