"""What is said of cutting, gluing and trying valves, and the cautions that belong to it.

Common practice in workshops, no source.

Public: `STEPS`, `VALVE_CAUTIONS`.
"""

from __future__ import annotations

STEPS: tuple[str, ...] = (
    "Print at 100 % (“actual size”, not fitted to the page) and on one side only, and lay a ruler "
    "on both bars.",
    "Lay one outline on its slot before you cut them all: it must cover the slot on every side.",
    "Lay the film over the sheet, or fix the sheet to it, and cut along the middle of the lines. "
    "Keep the pieces in order: each is made for one slot.",
    "Clean the plate with alcohol where the pads go, with no flame or hot iron near. "
    "Put a trace of glue on the hatched end only, lay the valve straight over its slot, and press "
    "the pad for a moment. Glue that creeps into the slot stops the reed.",
    "Every valve must lie flat, touch no neighbour, and lift with a breath. One that stands open "
    "buzzes; one that sticks chokes the note.",
    "When the glue has set, put the harp together loosely and try each reed, softly and loudly, "
    "before you turn the screws home.",
)
VALVE_CAUTIONS: tuple[str, ...] = (
    "A sharp knife slips: cut along a steel ruler, on a mat, away from the hand that holds.",
    "Glue gives off fumes, and some glues bond skin in seconds: window open, a trace at a time, "
    "off the skin and out of the eyes. Follow what is printed on it, and let it set wholly before "
    "the harp comes near your mouth.",
    "A loose valve can be breathed in. Tug gently at each one, and blow through every hole before "
    "you draw.",
)
