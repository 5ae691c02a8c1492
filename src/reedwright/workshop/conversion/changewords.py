"""What the holes gain and lose, in a line for each hole.

Public: `change_lines`.
"""

from __future__ import annotations

from reedwright.harp.layout import note_name
from reedwright.harp.model import Breath, Harp, Sounding, Technique
from reedwright.tab.words import bend_words, listed
from reedwright.workshop.changes import BendChange, bend_changes, hole_changes


def change_lines(stock: Harp, wanted: Harp) -> tuple[tuple[int, str], ...]:
    """The number of every hole that changes, and a line of words.

    Where all notes move, as between two keys, only its bends are told. Else the notes say what
    bends come and go, and other depths are added.
    """
    bends: dict[int, list[str]] = {}
    same_home = stock.transpose == wanted.transpose
    for bend in bend_changes(stock, wanted):
        parts = [_depth(bend)] if same_home else _bend_parts(bend)
        bends.setdefault(bend.reed.hole, []).extend(part for part in parts if part)
    lines = []
    for change in hole_changes(stock, wanted):
        parts = []
        if same_home:
            for verb, ways in (("gains", change.gained), ("loses", change.lost)):
                if ways:
                    parts.append(f"{verb} {listed([_way(way, wanted) for way in ways])}")
        parts += bends.get(change.hole, [])
        if parts:
            lines.append((change.hole, "; ".join(parts)))
    return tuple(lines)


def _way(way: Sounding, harp: Harp) -> str:
    """`draw bent to Bb4`, `the blow reed's A4`, `the overblow C5`."""
    note = note_name(way.midi, harp)
    if way.technique is Technique.NATURAL:
        said = f"{way.breath.value} {note}"
    elif way.technique.overbend:
        said = f"the {way.technique.value} {note}"
    else:
        said = f"{way.breath.value} bent to {note}"
    return said + (" with the slide" if way.slide else "")


def _depth(change: BendChange) -> str:
    """A bend that stays and gets deeper or shallower; else empty."""
    if not change.before or not change.after or change.before == change.after:
        return ""
    return (
        f"{change.reed.breath.value} bends {bend_words(change.after)} at most, not "
        f"{bend_words(change.before)}"
    )


def _bend_parts(change: BendChange) -> list[str]:
    name = change.reed.breath.value
    found = [_depth(change)]
    if change.before and not change.after:
        found.append(f"{name} bends no more")
    elif change.after and not change.before:
        found.append(f"{name} bends now, {bend_words(change.after)} at most")
    over = "overblow" if change.reed.breath is Breath.BLOW else "overdraw"
    if change.over_after and not change.over_before:
        found.append(f"has an {over} now")
    elif change.over_before and not change.over_after:
        found.append(f"has no {over} any more")
    return found
