"""The stages of the work, each with its reeds in order and what is done there.

All harps of a work list go through each stage together, so that they settle in one night.

Public: `Step`, `bench_steps`, `SharedStep`, `worklist_steps`.
"""

from __future__ import annotations

from typing import NamedTuple

from reedwright.workshop.conversion.model import Conversion, ReedWork, WorkList
from reedwright.workshop.conversion.order import SETTLE_HOURS, Stage, stage_of
from reedwright.workshop.targets.beats import PairBeats, PairKind, pair_beats


class Step(NamedTuple):
    """One stage: `works` in the order in which reeds have their turn; `text` says what is done.

    A reed that is moved far has two turns, one before it settles and one after. `pairs`: the
    octaves and unisons with a reed that was worked on, to be tried last, each with its beats.
    """

    stage: Stage
    works: tuple[ReedWork, ...]
    text: str
    pairs: tuple[PairBeats, ...] = ()


_TEXTS = {
    Stage.SWAP: "Covers and plates off. One plate after the other, the blow plate first.",
    Stage.COARSE: "With covers and plates off: the blow plate first, then the draw plate; put the "
    "harp together to hear it. "
    "Raise a reed by taking metal off its free end; lower it by taking metal off near "
    "the rivet or by a weight at the free end. Wipe the dust up damp; do not blow it away.",
    Stage.SETTLE: f"Play every reed that was changed for a minute, then leave the harp for "
    f"{SETTLE_HOURS} hours or overnight: reeds go on moving after work, mostly a few cents.",
    Stage.FINE: "Covers off, hole by hole, both reeds of a hole together: a stroke at the free end "
    "raises, a stroke near the rivet lowers. A warm reed sounds flat, so let it cool before "
    "you trust the tuner.",
    Stage.CHORDS: "Play all octaves, then the chords, blow and draw, softly and loudly, and mend "
    "what beats otherwise than it should. Then clean the harp and put the covers on.",
}


def bench_steps(conversion: Conversion) -> tuple[Step, ...]:
    """The stages that this conversion needs, in order; none where there is no work."""
    if not conversion.works:
        return ()
    turns = {
        stage: tuple(work for work in conversion.works if stage_of(work) is stage)
        for stage in (Stage.SWAP, Stage.COARSE)
    }
    # Reeds that are done at their first turn, such as tiny changes, need no second one.
    turns[Stage.FINE] = tuple(
        work for work in conversion.finishing if work.finish or stage_of(work) is Stage.FINE
    )
    settles = any(work.finish for work in conversion.works)
    found = []
    for stage in Stage:
        if stage is Stage.CHORDS or turns.get(stage) or (stage is Stage.SETTLE and settles):
            pairs = _pairs(conversion) if stage is Stage.CHORDS else ()
            found.append(Step(stage, turns.get(stage, ()), _TEXTS[stage], pairs))
    return tuple(found)


class SharedStep(NamedTuple):
    """One stage of several harps. `harps`: (index of the conversion, its step in this stage)."""

    stage: Stage
    text: str
    harps: tuple[tuple[int, Step], ...]


def worklist_steps(worklist: WorkList) -> tuple[SharedStep, ...]:
    """The stages of all harps together: in each, those that need it, in the order of the list.

    Each harp's steps are those of `bench_steps`, so that reeds which settle have their second
    turn, and harps are left to settle and tried with their octaves.
    """
    each = [
        {step.stage: step for step in bench_steps(conversion)}
        for conversion in worklist.conversions
    ]
    found = []
    for stage in Stage:
        harps = tuple((c, steps[stage]) for c, steps in enumerate(each) if stage in steps)
        if harps:
            found.append(SharedStep(stage, _TEXTS[stage], harps))
    return tuple(found)


def _pairs(conversion: Conversion) -> tuple[PairBeats, ...]:
    worked = {work.reed for work in conversion.works}
    return tuple(
        pair
        for pair in pair_beats(conversion.targets)
        if (pair.kind is PairKind.OCTAVE or pair.semitones == 0)
        and (pair.lower in worked or pair.upper in worked)
    )
