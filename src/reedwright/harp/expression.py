"""What can be done with a note besides sounding it: bend it, give it vibrato; is it breathy?

Rules (common practice of the trade, no source; docs/expression.md)
-------------------------------------------------------------------
* A reed that no valve isolates bends where it is the higher of its hole, down to a semitone above
  the lower one (a two-reed bend). An isolated reed bends alone, about a semitone. A note that
  is bent already has left what remains.
* Vibrato of pitch needs a pitch that gives way: a note that bends, that is bent, or that is an
  overblow or overdraw. An isolated reed takes true vibrato. Other notes can only swell in
  loudness (throat or hand).
* The lower reed of a hole, where no valve isolates it, leaks: air passes the other slot and the
  note is breathy. Of two equal reeds neither counts as lower.

Public: `Expression`, `BendKind`, `expression_of`, `same_breath_neighbours`, `expression_text`,
`expression_report`.
"""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple

from reedwright.harp.model import (
    VALVED_BEND_DEPTH,
    Breath,
    Harp,
    Reed,
    Sounding,
    Technique,
)


class BendKind(StrEnum):
    """How a note gives way."""

    NONE = "none"
    TWO_REED = "two-reed bend"
    VALVED = "valved bend"


class Expression(NamedTuple):
    """What one note of a harp allows. `depth`: semitones that it still bends down (0: none)."""

    bend: BendKind
    depth: int
    vibrato: bool
    breathy: bool


def expression_of(harp: Harp, sounding: Sounding) -> Expression:
    """The rules above for one sounding of this harp."""
    if sounding.technique.overbend:
        # Its pitch rises and falls with the breath, but it does not bend below the note it is.
        return Expression(BendKind.NONE, 0, True, False)
    if Reed(sounding.hole, sounding.breath) in harp.isolated:
        return Expression(BendKind.VALVED, VALVED_BEND_DEPTH - sounding.bend, True, False)
    own = harp.reed_midi(sounding.hole, sounding.breath, sounding.slide)
    other = harp.reed_midi(sounding.hole, sounding.breath.other, sounding.slide)
    deepest = max(0, own - other - 1)
    if not deepest:
        return Expression(BendKind.NONE, 0, False, own < other)
    return Expression(BendKind.TWO_REED, deepest - sounding.bend, True, False)


def same_breath_neighbours(harp: Harp, sounding: Sounding) -> tuple[Sounding, ...]:
    """The plain notes of the holes beside it in the same breath: the lower hole first.

    What a cut (the hole above) or a tap (the hole below) sounds.
    """
    return tuple(
        natural(harp, hole, sounding.breath, sounding.slide)
        for hole in (sounding.hole - 1, sounding.hole + 1)
        if 1 <= hole <= harp.tuning.holes
    )


def natural(harp: Harp, hole: int, breath: Breath, slide: bool = False) -> Sounding:
    """The plain note of a reed."""
    midi = harp.reed_midi(hole, breath, slide)
    return Sounding(hole, breath, Technique.NATURAL, midi, 0, slide)


def expression_text(harp: Harp) -> str:
    """The reeds by what they allow, in words; with the slide out."""
    reeds = [s for s in harp.soundings if s.technique is Technique.NATURAL and not s.slide]
    allowed = [(reed, expression_of(harp, reed)) for reed in reeds]
    kinds = (
        ("bends with the other reed", [r for r, a in allowed if a.bend is BendKind.TWO_REED]),
        ("bends alone, by its valve", [r for r, a in allowed if a.bend is BendKind.VALVED]),
        ("takes vibrato", [r for r, a in allowed if a.vibrato]),
        ("breathy", [r for r, a in allowed if a.breathy]),
    )
    width = max(len(name) for name, _ in kinds)
    return "\n".join(f"{name:{width}}  {_reeds(having)}" for name, having in kinds if having)


def _reeds(reeds: list[Sounding]) -> str:
    """`blow 8 9 10, draw 1 2 3`."""
    sides = []
    for breath in Breath:
        holes = " ".join(str(reed.hole) for reed in reeds if reed.breath is breath)
        if holes:
            sides.append(f"{breath.value} {holes}")
    return ", ".join(sides)


def expression_report(harp: Harp) -> list[dict[str, object]]:
    """JSON-ready: what every sounding of the harp allows, in the harp's order."""
    found: list[dict[str, object]] = []
    for sounding in harp.soundings:
        allows = expression_of(harp, sounding)
        found.append(
            {
                "hole": sounding.hole,
                "breath": sounding.breath.value,
                "technique": sounding.technique.value,
                "bend": sounding.bend,
                "slide": sounding.slide,
                "bends_by": allows.bend.value,
                "bends_further": allows.depth,
                "vibrato": allows.vibrato,
                "breathy": allows.breathy,
            }
        )
    return found
