"""How a reed is worked on, and what is hard about it, in sentences for the bench.

Common practice in workshops, no source; judgement where figures are given.

Public: `how_words`, `swap_words`, `donor_words`, `warning_words`, `coarse_target`, `by_weight`,
`caution_words`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from reedwright.harp.cautions import SHORT_CAUTION, SOLDER_CAUTION
from reedwright.harp.layout import note_name
from reedwright.harp.model import Harp, Reed
from reedwright.tab.words import counted, with_article
from reedwright.workshop.conversion.costs import (
    CAREFUL_OVER,
    LEEWAY,
    SWAP_OVER,
    WARN_OVER,
    Region,
    region_of,
)
from reedwright.workshop.conversion.donors import MEASURE_OVER, longer_mm
from reedwright.workshop.conversion.model import Conversion, Donor, Work
from reedwright.workshop.conversion.order import SHORT_BY, Stage, stage_of
from reedwright.workshop.conversion.reeds import Draft

MOST_BORNE = 4.0  # semitones; beyond them nobody would call it retuning
WEIGHT_OVER = 50.0  # cents; less is not worth the heat or glue. Judgement

_SUPPORT = "Slide a shim under the reed first."
_STROKES = {
    Region.LOW: "The reed is long: it takes many light strokes.",
    Region.MIDDLE: "",
    Region.HIGH: "The reed is short: one stroke can be ten cents, so hear it after each.",
}


def coarse_target(draft: Draft) -> float | None:
    """Where to stop at first, in Hz, `SHORT_BY` cents short; None where no stop is needed."""
    if stage_of(draft) is not Stage.COARSE:
        return None
    short = -SHORT_BY if draft.cents > 0 else SHORT_BY
    return draft.to_hz * math.exp2(short / 1200)


def how_words(draft: Draft, harp: Harp) -> str:
    """What is done at the bench, on a reed of `harp`."""
    if draft.work is Work.SWAP:
        return swap_words(draft.donors[0], harp, draft.reed)
    region = region_of(draft.from_hz)
    weight = by_weight(draft)
    if weight:
        where = "Add a weight at the free end, so that the reed keeps its strength at the rivet."
    elif draft.cents > 0:
        where = "Take metal off the free end."
    else:
        where = "Take metal off near the rivet."
    coarse = coarse_target(draft)
    if coarse is None:
        return f"{_SUPPORT} {where}"
    stop = f"Stop {SHORT_BY:g} cents short, at {coarse:.2f} Hz, and let it settle."
    strokes = "" if weight else _STROKES[region]
    gap = "Set the gap anew." if abs(draft.cents) > 100 * CAREFUL_OVER + LEEWAY else ""
    return " ".join(part for part in (_SUPPORT, where, strokes, stop, gap) if part)


def by_weight(draft: Draft) -> bool:
    """Whether a reed is better lowered by a weight: one that goes far down, or a long one.

    A short reed has no room for it, and for little it is not worth the heat or glue. A reed
    that is swapped is not counted, whatever its new reed still needs.
    """
    region = region_of(draft.from_hz)
    if draft.work is Work.SWAP or region is Region.HIGH or draft.cents > -WEIGHT_OVER:
        return False
    return region is Region.LOW or abs(draft.cents) > 100 * CAREFUL_OVER + LEEWAY


def swap_words(donor: Donor, harp: Harp, reed: Reed) -> str:
    """How a reed of `harp` is swapped for one of another harp."""
    left = ""
    if donor.semitones:
        way = "up" if donor.semitones > 0 else "down"
        left = f" and tune it {way} {counted(abs(donor.semitones), 'semitone')}"
    return (
        f"Take the reed out and put in {donor_words(donor)}{left}. Hold it to the slot first: a "
        f"longer or wider one does not go in, a much shorter one leaks. "
        f"{_off_words(longer_mm(donor, harp, reed))}Centre it in the slot, set the gap, let it "
        "settle, then bring it to its target."
    )


def _off_words(longer: float) -> str:
    """Where the two lengths are far apart by the table; empty where they are not."""
    if abs(longer) <= MEASURE_OVER:
        return ""
    return (
        f"By sizes from memory it is {abs(longer):.1f} mm too {'long' if longer > 0 else 'short'}: "
        "measure both before you buy. "
    )


def donor_words(donor: Donor) -> str:
    """`4 draw of a low D harp, D4`."""
    harp, (hole, breath) = donor.harp, donor.reed
    note = note_name(harp.reed_midi(hole, breath), harp)
    return f"{hole} {breath.value} ({note}) of {with_article(harp.name)}"


def warning_words(draft: Draft) -> str:
    """What is hard about it and what to do instead; empty where nothing is."""
    if draft.work is Work.TOUCH:
        return ""
    far = abs(draft.cents) / 100
    if draft.work is Work.SWAP:
        if far <= SWAP_OVER + LEEWAY / 100:
            return f"{_far(far)} is more than you want to retune a reed by. Swap it."
        return f"{_far(far)} would go too far: the reed would hardly answer, or crack. Swap it."
    if far > WARN_OVER + LEEWAY / 100:
        instead = (
            f"Better put in {donor_words(draft.donors[0])}."
            if draft.donors
            else "No harp that was looked at has a reed for this slot; choose another stock harp "
            "or leave the reed as it is if you can."
        )
        loses = "more than a reed bears" if far > MOST_BORNE else "far, and costs a reed strength"
        return f"{_far(far)} is {loses}. {instead}"
    if far > CAREFUL_OVER + LEEWAY / 100:
        return "More than a semitone: go by small steps, and expect to gap the reed anew."
    return ""


def _far(semitones: float) -> str:
    """`A change of 3 semitones`, `A change of 2.3 semitones`."""
    whole = round(semitones)
    exact = abs(semitones - whole) <= LEEWAY / 100
    return f"A change of {whole if exact else format(semitones, '.1f')} semitones"


def caution_words(conversions: Iterable[Conversion]) -> str:
    """The short caution, and that of solder and iron where a weight is advised."""
    weights = any(work.by_weight for each in conversions for work in each.works)
    return f"{SHORT_CAUTION} {SOLDER_CAUTION}" if weights else SHORT_CAUTION
