"""A valve plan in words for a terminal, and as plain data.

Public: `valve_plan_text`, `valve_plan_report`, `summary_words`, `origin_words`, `side_words`,
`pitch_words`, `reed_words`, `valve_notes`.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from reedwright.harp.layout import note_name
from reedwright.harp.model import Breath, Harp, Reed, Sounding
from reedwright.workshop.valving.advice import VALVE_CAUTIONS
from reedwright.workshop.valving.effects import effect_words, pitches_changed, valve_effects
from reedwright.workshop.valving.model import Slot, Valve, ValvePlan, listed_valves

NARROWEST = 40


def summary_words(plan: ValvePlan) -> str:
    """`10 valves: blow slots 7 to 10 from outside, draw slots 1 to 6 from inside.`"""
    if not plan.valves:
        return "No valves."
    sides = [
        f"{plate.value} {_slots(valves)} {side_words(valves[0])}"
        for plate in Breath
        if (valves := plan.of_plate(plate))
    ]
    count = len(plan.valves)
    unfit = sum(not valve.fits for valve in plan.valves)
    less = f" {unfit} of them cannot be made to fit." if unfit else ""
    return f"{count} valve{'s' if count > 1 else ''}: {', '.join(sides)}.{less}"


def valve_notes(plan: ValvePlan) -> tuple[tuple[str, str], ...]:
    """What is to be known of single valves: which (`blow 9 10`), and what."""
    having: dict[str, list[Valve]] = {}
    for valve in plan.valves:
        for note in valve.notes:
            having.setdefault(note, []).append(valve)
    return tuple((listed_valves(valves), note) for note, valves in having.items())


def side_words(valve: Valve) -> str:
    """On which side of its plate the valve lies."""
    return "inside, facing the comb" if valve.inside else "outside, under the cover"


def origin_words(of: Valve | Slot) -> str:
    """Where the size of the slot is from."""
    if of.measured:
        return "measured"
    return "worked out" if of.worked_out else "from memory"


def pitch_words(plan: ValvePlan) -> str:
    """What notes the harp as a whole gains and loses, in a sentence or two."""
    changed = pitches_changed(plan)
    if not plan.valves:
        return ""
    parts = []
    if changed.gained:
        parts.append(f"New on this harp: {_notes(changed.gained, plan.harp)}.")
    if changed.lost:
        parts.append(f"No longer on this harp: {_notes(changed.lost, plan.harp)}.")
    if not parts:
        return "The harp has the notes that it had, some in other ways; none is new."
    if not changed.lost:
        parts.append("No note is lost to the harp, though some are had in other ways.")
    return " ".join(parts)


def valve_plan_text(plan: ValvePlan, width: int = 80) -> str:
    """The plan for a terminal, lines of prose no longer than `width` letters."""
    lines: list[str] = []

    def say(text: str, first: str = "", rest: str = "") -> None:
        lines.extend(
            textwrap.wrap(text, max(width, NARROWEST), initial_indent=first, subsequent_indent=rest)
        )

    say(f"Valves for the {plan.harp.name}. {summary_words(plan)}")
    slots = {slot.reed: slot for slot in plan.slots}
    for plate in Breath:
        valves = plan.of_plate(plate)
        if not valves:
            continue
        lines += ["", f"{plate.value.capitalize()} plate, {side_words(valves[0])} (mm)", ""]
        lines.append("  hole  for      long  wide   pad   slot")
        for valve in valves:
            slot = slots[valve.slot]
            lines.append(
                f"  {valve.slot.hole:>4}  {reed_words(valve.isolates):<7} {valve.length:>5.1f} "
                f"{valve.width:>5.1f} {valve.pad:>5.1f}   {slot.length:.1f} x {slot.width:.1f}, "
                f"{origin_words(slot)}"
            )
    if any(valve.notes for valve in plan.valves):
        lines.append("")
    for which, note in valve_notes(plan):
        say(f"{which}: {note}", "  ", "    ")
    if plan.valves:
        lines += ["", "What each valve changes", ""]
        for effect in valve_effects(plan):
            say(f"{effect.valve.name}: {effect_words(effect, plan.harp)}", "  ", "    ")
        lines.append("")
        say(pitch_words(plan))
    for heading, items in (("Mind", plan.notes), ("Take care", VALVE_CAUTIONS)):
        if items and (plan.valves or heading == "Mind"):
            lines += ["", heading, ""]
            for item in items:
                say(item, "- ", "  ")
    return "\n".join(lines)


def valve_plan_report(plan: ValvePlan) -> dict[str, object]:
    """JSON-ready: all of the plan; sizes in mm, pitches as MIDI notes and names."""
    slots = {slot.reed: slot for slot in plan.slots}
    effects = {effect.valve: effect for effect in valve_effects(plan)}
    changed = pitches_changed(plan)
    return {
        "harp": plan.harp.name,
        "valving": plan.harp.valving,
        "isolated": [_reed(reed) for reed in sorted(plan.harp.isolated)],
        "valves": [
            {
                "plate": valve.plate.value,
                "hole": valve.slot.hole,
                "side": "inside" if valve.inside else "outside",
                "isolates": _reed(valve.isolates),
                "length_mm": valve.length,
                "width_mm": valve.width,
                "pad_mm": valve.pad,
                "slot_length_mm": round(slots[valve.slot].length, 2),
                "slot_width_mm": round(slots[valve.slot].width, 2),
                "slot_size": origin_words(slots[valve.slot]),
                "fits": valve.fits,
                "notes": list(valve.notes),
                "gained": _ways(effects[valve].gained, plan.harp),
                "lost": _ways(effects[valve].lost, plan.harp),
                "kept": _ways(effects[valve].kept, plan.harp),
                "true_vibrato": effects[valve].vibrato,
                "less_breathy": effects[valve].purer,
            }
            for valve in plan.valves
        ],
        "changes": [
            {
                "hole": change.hole,
                "gained": _ways(change.gained, plan.harp),
                "lost": _ways(change.lost, plan.harp),
            }
            for change in plan.changes
        ],
        "notes_gained": [_note(midi, plan.harp) for midi in changed.gained],
        "notes_lost": [_note(midi, plan.harp) for midi in changed.lost],
        "plates": {
            "hole_pitch_mm": plan.plates.hole_pitch,
            "rivet_gap_mm": plan.plates.rivet_gap,
            "chamber_width_mm": plan.plates.chamber_width,
            "blow_rivets": plan.plates.blow_rivets.value,
            "draw_rivets": plan.plates.draw_rivets.value,
            "measured": sorted(plan.plates.told),
        },
        "notes": list(plan.notes),
        "cautions": list(VALVE_CAUTIONS),
    }


def reed_words(reed: Reed) -> str:
    """`draw 7`."""
    return f"{reed.breath.value} {reed.hole}"


def _slots(valves: tuple[Valve, ...]) -> str:
    """`slots 1 to 6 and 8`, `slot 3`."""
    runs: list[list[int]] = []
    for valve in valves:
        if runs and valve.slot.hole == runs[-1][-1] + 1:
            runs[-1].append(valve.slot.hole)
        else:
            runs.append([valve.slot.hole])
    words = [
        f"{run[0]} to {run[-1]}" if len(run) > 2 else " and ".join(map(str, run)) for run in runs
    ]
    name = "slots" if len(valves) > 1 else "slot"
    listed = words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
    return f"{name} {listed}"


def _notes(midis: Iterable[int], harp: Harp) -> str:
    return ", ".join(note_name(midi, harp) for midi in midis)


def _reed(reed: Reed) -> dict[str, object]:
    return {"breath": reed.breath.value, "hole": reed.hole}


def _note(midi: int, harp: Harp) -> dict[str, object]:
    return {"midi": midi, "note": note_name(midi, harp)}


def _ways(ways: Iterable[Sounding], harp: Harp) -> list[dict[str, object]]:
    return [
        {
            "breath": way.breath.value,
            "technique": way.technique.value,
            "bend": way.bend,
            "midi": way.midi,
            "note": note_name(way.midi, harp),
        }
        for way in ways
    ]
