"""Fewest harps, the trade of harps against effort, and evenings as text for a terminal.

Public: `harps_text`, `frontier_text`, `evening_text`, `set_text`.
"""

from __future__ import annotations

from collections.abc import Sequence

from reedwright.tab.sets.evenings import PlannedEvening
from reedwright.tab.sets.fewest import HarpChoice, LeftOut, OnHarp, Step
from reedwright.tab.sets.model import TuneSet
from reedwright.tab.words import counted, listed, moved_words

_MOST_LEFT_OUT = 20  # told one by one


def harps_text(choice: HarpChoice) -> str:
    """The harps, the tunes on each, what is left out, and whether it is proven the best."""
    tunes = counted(len(choice.tunes), "tune")
    if not choice.harps:
        return "\n".join(["No harp is taken: no tune is played.", *_left_out(choice.left_out)])
    lines = [
        f"{counted(len(choice.harps), 'harp')} for {tunes}, {choice.effort_per_note:.2f} effort a "
        "note on average:"
    ]
    for harp in choice.harps:
        on = choice.of(harp)
        lines += ["", f"{harp.name} ({counted(len(on), 'tune')})"]
        lines += [f"  {_on_harp(each)}" for each in on]
    lines += _left_out(choice.left_out)
    lines += ["", _proof(choice)]
    return "\n".join(lines)


def _on_harp(each: OnHarp) -> str:
    said = [f"{each.effort_per_note:5.2f}  {each.tune.title}"]
    moved = moved_words(each.octaves, each.semitones)
    if moved:
        said.append(moved)
    if each.bends:
        said.append(counted(each.bends, "bend"))
    if each.overblows:
        said.append(counted(each.overblows, "overblow or overdraw", "overblows or overdraws"))
    if each.missing:
        said.append(f"{counted(each.missing, 'note')} missing")
    return ", ".join(said)


def _left_out(left_out: Sequence[LeftOut]) -> list[str]:
    if not left_out:
        return []
    lines = ["", f"Not played ({counted(len(left_out), 'tune')}):"]
    lines += [f"  {each.tune.title}: {each.why}" for each in left_out[:_MOST_LEFT_OUT]]
    if len(left_out) > _MOST_LEFT_OUT:
        lines.append(f"  and {len(left_out) - _MOST_LEFT_OUT} more")
    return lines


def _proof(choice: HarpChoice) -> str:
    if choice.proven:
        return "No other choice of these harps is better."
    tunes, counts, effort = choice.gap
    could = []
    if tunes:
        could.append(f"play {counted(tunes, 'tune')} more")
    if counts:
        could.append(f"do with {counts:g} harps fewer")
    if effort:
        could.append(f"save {effort:.2f} effort in all")
    return (
        "Time ran out before it was proven that no choice is better; another one could at most "
        f"{listed(could, 'or')}."
    )


def frontier_text(steps: Sequence[Step]) -> str:
    """One line for each number of harps, and below what another harp would bring."""
    if not steps:
        return "There is no harp to choose."
    lines = ["harps  tunes  effort a note  worst"]
    for step in steps:
        worst = step.choice.worst
        told = "" if worst is None else f"{worst.effort_per_note:.2f} ({worst.tune.title})"
        tunes, effort = len(step.choice.tunes), step.choice.effort_per_note
        lines.append(f"{step.most:5}  {tunes:5}  {effort:13.2f}  {told}".rstrip())
    lines.append("")
    for step in steps:
        lines.append(step.words)
        lines.append(f"  {listed([harp.name for harp in step.choice.harps])}")
    lines += _left_out(steps[-1].choice.left_out)
    if not all(step.choice.proven for step in steps):
        lines += ["", "Time ran out before every line was proven to be the best."]
    return "\n".join(lines)


def set_text(each: TuneSet) -> str:
    """A set: its tunes in order with key, harp and why."""
    lines = [f"{each.name} ({each.why})" if each.why else each.name]
    for place, entry in enumerate(each.entries, start=1):
        moved = moved_words(entry.octaves, entry.semitones)
        key = "" if entry.tune.key.mode == "none" else f", {entry.tune.key.name}"
        lines.append(
            f"  {place}. {entry.tune.title}{key}: {entry.harp.name}"
            + (f", {moved}" if moved else "")
            + f", {counted(entry.times, 'time')}"
        )
        if entry.why:
            lines.append(f"     {entry.why}")
    return "\n".join(lines)


def evening_text(planned: PlannedEvening) -> str:
    """The evening, set by set, then harps, length, what is left out and how good it is."""
    evening = planned.evening
    lines = [evening.title, ""]
    for each in evening.sets:
        lines += [set_text(each), ""]
    lines.append(f"Harps: {listed([harp.name for harp in evening.harps])}.")
    lines.append(f"About {max(1, round(planned.seconds / 60))} minutes with breaks.")
    lines += _left_out(planned.left_out)
    if planned.left_out:
        lines.append("")
    if planned.short_of:
        lines.append(
            f"By your rules other sets could be better by {planned.short_of:.2f} at most, about "
            "that many efforts a note."
        )
    else:
        lines.append("By your rules no other sets of these tunes on these harps are better.")
    if not planned.ordered:
        lines.append("The order of the sets is a good one, not proven the best.")
    return "\n".join(lines)
