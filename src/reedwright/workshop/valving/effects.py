"""What each valve changes: notes, true vibrato, breath that no longer leaks.

A valve is judged by taking it alone away: what the harp sounds with it and not without it is
gained, the other way about lost (`workshop.changes`). Whether a reed takes vibrato
or is breathy goes by `harp.expression`. Both rules are common practice, without a source.

Public: `ValveEffect`, `valve_effects`, `effect_words`, `PitchChange`, `pitches_changed`.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from reedwright.harp.expression import Expression, expression_of, natural
from reedwright.harp.layout import note_name
from reedwright.harp.model import Harp, Reed, Sounding, Technique
from reedwright.workshop.changes import hole_changes
from reedwright.workshop.valving.model import Valve, ValvePlan


class ValveEffect(NamedTuple):
    """What one valve does for its hole, against the same harp without this one valve.

    `vibrato`: the isolated reed takes true vibrato, and did not before. `purer`: its note was
    breathy, and is no longer. `kept`: bends of the hole's other reed, which it leaves as they are.
    """

    valve: Valve
    gained: tuple[Sounding, ...]
    lost: tuple[Sounding, ...]
    kept: tuple[Sounding, ...]
    vibrato: bool
    purer: bool


class PitchChange(NamedTuple):
    """MIDI notes that the harp has with all valves only, and without any only."""

    gained: tuple[int, ...]
    lost: tuple[int, ...]


def valve_effects(plan: ValvePlan) -> tuple[ValveEffect, ...]:
    """One effect for each valve, in the plan's order; nothing of one that cannot be made."""
    return tuple(_effect(plan.harp, valve) for valve in plan.valves)


def pitches_changed(plan: ValvePlan) -> PitchChange:
    """What the whole harp can sound with the valves and could not, and the other way about.

    A note that is lost in one hole may be had from another; then it is not lost to the harp.
    """
    bare = set(replace(plan.harp, isolated=frozenset()).ways)
    valved = set(plan.harp.ways)
    return PitchChange(tuple(sorted(valved - bare)), tuple(sorted(bare - valved)))


def effect_words(effect: ValveEffect, harp: Harp) -> str:
    """One effect in sentences: `Blow 1 bends alone to B3 ... Lost: the overblow Eb4.`"""
    reed = effect.valve.isolates
    if not effect.valve.fits:
        return f"Cannot be made: {reed.breath.value} {reed.hole} stays as it is."
    name = f"{reed.breath.value} {reed.hole}"
    gains = [f"bends alone to {_and([note_name(way.midi, harp) for way in effect.gained])}"]
    if effect.vibrato:
        gains.append("takes true vibrato")
    if effect.purer:
        gains.append("is less breathy")
    sentences = [f"{name.capitalize()} {_and(gains)}."]
    new = {way.midi for way in effect.gained}
    for technique in Technique:
        ways = [way for way in effect.lost if way.technique is technique]
        if not ways:
            continue
        notes = _and([note_name(way.midi, harp) for way in ways])
        many = len(ways) > 1
        what = "two-reed bend" if technique is Technique.BEND else technique.value
        sentence = f"Lost: the {what}{'s' if many else ''} {notes}"
        if any(way.midi in new for way in ways):
            still = _and([note_name(way.midi, harp) for way in ways if way.midi in new])
            sentence += f" ({still} can still be had, by bending alone)"
        sentences.append(sentence + ".")
    if effect.kept:
        bends = _and([note_name(way.midi, harp) for way in effect.kept])
        kind = f"{effect.kept[0].breath.value} bend{'s' if len(effect.kept) > 1 else ''}"
        sentences.append(f"Kept: the {kind} {bends}.")
    return " ".join(sentences)


def _effect(harp: Harp, valve: Valve) -> ValveEffect:
    without = replace(harp, isolated=harp.isolated - {valve.isolates})
    here = [each for each in hole_changes(without, harp) if each.hole == valve.isolates.hole]
    before, after = _reed_allows(without, valve.isolates), _reed_allows(harp, valve.isolates)
    return ValveEffect(
        valve=valve,
        gained=tuple(way for each in here for way in each.gained),
        lost=tuple(way for each in here for way in each.lost),
        kept=tuple(
            way
            for way in harp.hole_soundings(valve.isolates.hole)
            if valve.fits and way.technique is Technique.BEND
        ),
        vibrato=after.vibrato and not before.vibrato,
        purer=before.breathy and not after.breathy,
    )


def _reed_allows(harp: Harp, reed: Reed) -> Expression:
    return expression_of(harp, natural(harp, reed.hole, reed.breath))


def _and(words: list[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
