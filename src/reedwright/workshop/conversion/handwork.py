"""How a reed is worked on, and what is hard about it, in sentences for the bench.

Common practice in workshops, no source; judgement where figures are given.

Public: `how_words`, `swap_words`, `donor_words`, `warning_words`, `coarse_target`.
"""

from __future__ import annotations

import math

from reedwright.harp.layout import note_name
from reedwright.tab.words import counted, with_article
from reedwright.workshop.conversion.costs import (
    CAREFUL_OVER,
    LEEWAY,
    SWAP_OVER,
    WARN_OVER,
    Region,
    region_of,
)
from reedwright.workshop.conversion.model import Donor, Work
from reedwright.workshop.conversion.reeds import Draft

MOST_BORNE = 4.0  # semitones; beyond them nobody would call it retuning
SHORT_BY = 5.0  # cents left for the finish, after the metal has settled

_SUPPORT = "Slide a shim under the reed first."
_STROKES = {
    Region.LOW: "The reed is long: it takes many light strokes.",
    Region.MIDDLE: "",
    Region.HIGH: "The reed is short: one stroke can be ten cents, so hear it after each.",
}


def coarse_target(draft: Draft) -> float | None:
    """Where to stop at first, in Hz, `SHORT_BY` cents short; None where no stop is needed."""
    if draft.work in (Work.TOUCH, Work.SWAP) or abs(draft.cents) <= 2 * SHORT_BY:
        return None
    short = -SHORT_BY if draft.cents > 0 else SHORT_BY
    return draft.to_hz * math.exp2(short / 1200)


def how_words(draft: Draft) -> str:
    """What is done at the bench."""
    if draft.work is Work.SWAP:
        return swap_words(draft.donors[0])
    region = region_of(draft.from_hz)
    weight = _by_weight(draft, region)
    if weight:
        where = "Add a weight at the free end, so that the reed keeps its strength at the rivet."
    elif draft.cents > 0:
        where = "Take metal off the free end."
    else:
        where = "Take metal off near the rivet."
    if draft.work is Work.TOUCH:
        return f"{_SUPPORT} {where}"
    coarse = coarse_target(draft)
    stop = ""
    if coarse is not None:
        stop = f"Stop {SHORT_BY:g} cents short, at {coarse:.2f} Hz, and let it settle."
    strokes = "" if weight else _STROKES[region]
    gap = "Set the gap anew." if abs(draft.cents) > 100 * CAREFUL_OVER + LEEWAY else ""
    return " ".join(part for part in (_SUPPORT, where, strokes, stop, gap) if part)


def _by_weight(draft: Draft, region: Region) -> bool:
    """Whether a reed is better lowered by a weight: one that goes far down, or a long one.

    A short reed has no room for it, and for a touch it is not worth the heat or glue.
    """
    if draft.cents > 0 or draft.work is Work.TOUCH or region is Region.HIGH:
        return False
    return region is Region.LOW or abs(draft.cents) > 100 * CAREFUL_OVER + LEEWAY


def swap_words(donor: Donor) -> str:
    """How a reed is swapped for one of another harp."""
    left = ""
    if donor.semitones:
        way = "up" if donor.semitones > 0 else "down"
        left = f" and tune it {way} {counted(abs(donor.semitones), 'semitone')}"
    return (
        f"Take the reed out and put in {donor_words(donor)}{left}. Centre it in the slot, set "
        "the gap, let it settle, then bring it to its target."
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
