"""A harp's history as text for a terminal and as plain data.

Public: `history_text`, `history_report`, `comparison_text`, `comparison_report`.
"""

from __future__ import annotations

import textwrap

from reedwright.errors import ReedwrightError
from reedwright.harp.making import parse_harp
from reedwright.harp.model import Reed
from reedwright.workshop.history.comparing import ReedChange, compare, latest, whole_change
from reedwright.workshop.history.model import Converted, Entry, HeardReed, History, Measured
from reedwright.workshop.history.writing import date_text
from reedwright.workshop.measuring.remarks import TOLERANCE, reed_words

WIDTH = 80  # columns
_FARTHEST = 3  # reeds that are named of a measurement
_INDENT = 19


def history_text(history: History, tolerance: float = TOLERANCE) -> str:
    """The entries, oldest first, and the first measurement beside the last."""
    lines = [f"{history.name}: {_harp_words(history.harp_now)}"]
    if history.harp_now != history.harp:
        lines.append(f"It was {_harp_words(history.harp)}.")
    if not history.entries:
        lines.append("Nothing was measured, done or noted yet.")
    else:
        lines.append("")
    for entry in history.by_date:
        start = f"{entry.date:%Y-%m-%d %H:%M}   "
        words = _entry_words(entry, tolerance)
        lines += textwrap.wrap(
            words, WIDTH, initial_indent=start, subsequent_indent=" " * _INDENT
        ) or [start]
    measured = history.measurements
    if len(measured) > 1:
        first, last = measured[0], measured[-1]
        lines += ["", f"{first.date:%Y-%m-%d} beside {last.date:%Y-%m-%d}:", ""]
        lines.append(comparison_text(compare(first, last)))
    return "\n".join(line.rstrip() for line in lines)


def comparison_text(changes: tuple[ReedChange, ...]) -> str:
    """A table by reed: before, after, change, and whether it moved; at most 80 columns."""
    lines = [
        "reed         before            after      change",
        "              cents            cents       cents",
    ]
    for each in changes:
        before = "-" if each.before_cents is None else _signed(each.before_cents)
        after = "-" if each.after_cents is None else _signed(each.after_cents)
        said = ""
        if each.change is not None:
            verdict = "moved" if each.moved else "within error"
            said = f"{_signed(each.change):>8} ± {each.uncertainty:.1f}   {verdict}"
        lines.append(f"{reed_words(each.reed):>7} {before:>11} {after:>16}    {said}")
    both = [each for each in changes if each.change is not None]
    moved = [each for each in both if each.moved]
    whole = whole_change(changes)
    lines += [
        "",
        f"{len(moved)} of {len(both)} reeds moved; the harp as a whole by {_signed(whole)} cents.",
    ]
    return "\n".join(line.rstrip() for line in lines)


def _signed(value: float) -> str:
    """Cents with their sign; nothing has none."""
    return "0.0" if abs(value) < 0.05 else f"{value:+.1f}"


def history_report(history: History) -> dict[str, object]:
    """What `--json` prints: the same as the file holds, and Hz as last measured."""
    return {
        "name": history.name,
        "harp": history.harp,
        "harp_now": history.harp_now,
        "file": str(history.path),
        "entries": [_entry_report(entry) for entry in history.by_date],
        "latest_hz": [{**_place(reed), "hz": round(hz, 4)} for reed, hz in latest(history).items()],
    }


def comparison_report(changes: tuple[ReedChange, ...]) -> dict[str, object]:
    """The comparison as plain data; Hz and cents."""
    return {
        "whole_change_cents": round(whole_change(changes), 2),
        "reeds": [
            {
                **_place(each.reed),
                "before_hz": each.before_hz,
                "after_hz": each.after_hz,
                "before_cents": each.before_cents,
                "after_cents": each.after_cents,
                "change_cents": None if each.change is None else round(each.change, 2),
                "uncertainty_cents": (
                    None if each.uncertainty is None else round(each.uncertainty, 2)
                ),
                "moved": each.moved,
            }
            for each in changes
        ],
    }


def _entry_words(entry: Entry, tolerance: float) -> str:
    if isinstance(entry, Measured):
        words = f"{entry.when}: {_measured_words(entry, tolerance)}"
    elif isinstance(entry, Converted):
        done = ", ".join(f"{reed_words(reed)} {work}" for reed, work in entry.works)
        words = f"converted to {_harp_words(entry.harp)}" + (f": {done}" if done else "")
    elif entry.kind != "note":
        words = f"{entry.kind} (an entry that this version does not know)"
    else:
        return entry.note
    return f"{words}. {entry.note}" if entry.note else f"{words}."


def _measured_words(entry: Measured, tolerance: float) -> str:
    count = len(entry.reeds)
    words = f"{count} reed{'' if count == 1 else 's'} against {entry.tuned_to or 'its targets'}"
    if not entry.at_bench:
        words += ", as played"
    off = sorted((each for each in entry.reeds if abs(each.cents) > tolerance), key=_farness)
    if not off:
        return f"{words}; all within {tolerance:g} cents" if count else words
    named = ", ".join(f"{reed_words(each.reed)} {each.cents:+.1f}" for each in off[:_FARTHEST])
    return f"{words}; {len(off)} more than {tolerance:g} cents off, farthest {named}"


def _farness(each: HeardReed) -> float:
    return -abs(each.cents)


def _harp_words(harp: str) -> str:
    """`G harp, raised 3 blow`; as it is written where its tuning is not to be found any more."""
    try:
        return parse_harp(harp).name
    except ReedwrightError:
        return harp


def _entry_report(entry: Entry) -> dict[str, object]:
    found: dict[str, object] = {"date": date_text(entry.date)}
    if isinstance(entry, Measured):
        found |= {
            "kind": "measurement",
            "when": entry.when,
            "tuned_to": entry.tuned_to,
            "at_bench": entry.at_bench,
            "shift_cents": entry.shift,
            "reeds": [_heard_report(each) for each in entry.reeds],
            "beats": [
                {
                    "reeds": [_place(reed) for reed in each.reeds],
                    "hz": each.rate,
                    "uncertainty_hz": each.uncertainty,
                }
                for each in entry.beats
            ],
        }
    elif isinstance(entry, Converted):
        works = [{**_place(reed), "work": work} for reed, work in entry.works]
        found |= {"kind": "conversion", "harp": entry.harp, "works": works}
    else:
        found["kind"] = entry.kind
    return {**found, "note": entry.note}


def _heard_report(each: HeardReed) -> dict[str, object]:
    return {
        **_place(each.reed),
        "hz": each.hz,
        "target_hz": each.target_hz,
        "cents": each.cents,
        "uncertainty_cents": each.uncertainty,
        "wander_cents": each.wander,
        "attack_seconds": each.attack,
        "level_dbfs": each.level,
        "tones": each.tones,
        "or": [_place(reed) for reed in each.others],
    }


def _place(reed: Reed) -> dict[str, object]:
    return {"hole": reed.hole, "breath": reed.breath.value}
