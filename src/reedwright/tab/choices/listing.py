"""A tune's choices for a person at a terminal and as JSON, with what became of each.

Public: `choices_text`, `choices_report`.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from reedwright.tab.choices.model import Choice, TuneChoices, beat_text
from reedwright.tab.choices.places import Placed
from reedwright.tab.choices.resolving import Found, Resolved, says_words
from reedwright.tab.choices.writing import settings_of, values_of
from reedwright.tab.words import moved_words

WIDTH = 88


def choices_text(choices: TuneChoices, resolved: Resolved) -> str:
    """Settings, then choices in the order of the tune, then those put aside with the reason."""
    lines = [choices.title or "Untitled"]
    lines += [f"  {words}" for words in _settings(choices)]
    for each in sorted(resolved.found, key=_in_order):
        moved = "" if _as_written(each) else f" (written for {each.choice.place.words})"
        back = " (fits again)" if each.again else ""
        lines.append(f"  {_where(each.note, each.choice)}: {says_words(each.choice)}{moved}{back}")
    if resolved.aside:
        lines.append("  Fits no note now:")
    for aside in resolved.aside:
        text = f"{aside.choice.place.words}: {says_words(aside.choice)}; {aside.reason}"
        lines += textwrap.wrap(text, WIDTH, initial_indent="    ", subsequent_indent="      ")
    if len(lines) == 1:
        lines.append("  nothing is chosen yet")
    return "\n".join(lines)


def _settings(choices: TuneChoices) -> Iterator[str]:
    if choices.harp:
        yield f"harp {choices.harp}"
    moved = moved_words(choices.octaves or 0, choices.semitones or 0)
    if moved:
        yield f"moved {moved}"
    elif choices.octaves is not None or choices.semitones is not None:
        yield "not moved"
    if choices.player:
        yield f"player {choices.player}"
    if choices.amount:
        yield f"ornaments: {choices.amount}"
    if choices.second_time:
        yield "the second time through is ornamented otherwise"
    if choices.voice:
        yield f"voice {choices.voice}"
    for name, weight in choices.weights.items():
        value = f"{weight:g}" if isinstance(weight, float) else ", ".join(f"{w:g}" for w in weight)
        yield f"weight {name} = {value}"


def _where(note: Placed, choice: Choice) -> str:
    time = f", time {choice.place.time}" if choice.place.time else ""
    bar = f"bar {note.bar}" if note.bar else "upbeat"
    place = note.place
    return f"{bar} beat {beat_text(place.beat)}, {place.pitch} ({place.part}{place.bar}){time}"


def _as_written(found: Found) -> bool:
    return found.choice.place[:3] == found.note.place[:3]


def _in_order(found: Found) -> tuple[int, str, int, float]:
    place = found.note.place
    return found.note.bar, place.part, place.bar, float(place.beat)


def choices_report(choices: TuneChoices, resolved: Resolved) -> dict[str, object]:
    """The same, JSON-ready (docs/choices.md)."""
    return {
        **settings_of(choices),
        "weights": dict(choices.weights),
        "choices": [
            {
                **values_of(each.choice),
                "note": each.note.id,
                "found_at": {
                    "part": each.note.place.part,
                    "bar": each.note.place.bar,
                    "printed_bar": each.note.bar,
                    "beat": round(float(each.note.place.beat), 4),
                },
            }
            for each in resolved.found
        ],
        "aside": [values_of(each) for each in resolved.aside],
        "notices": list(resolved.notices),
    }
