"""A match in words for people, and as plain values for programs.

Public: `match_text`, `match_report`.
"""

from __future__ import annotations

from reedwright.tune.likeness.model import Difference, Match

_INTERVALS = (
    "at the written pitch",
    "a semitone",
    "a tone",
    "a minor third",
    "a major third",
    "a fourth",
    "a tritone",
    "a fifth",
    "a minor sixth",
    "a major sixth",
    "a minor seventh",
    "a major seventh",
)


def match_text(match: Match, rank: int) -> str:
    """Two or three lines: the tune, where it fits and how high, what differs."""
    listed = match.tune
    kind = ", ".join(each for each in (listed.type, listed.key, listed.meter) if each)
    source = f"{listed.source}: " if listed.source else ""
    number = f"{listed.number}. " if listed.number else ""
    fits = f"{_bars(match)}{_height(match.semitones)}; {_differs(match.difference)}"
    return (
        f"{rank:>3}  {match.score:4.0%}  {listed.title}  ({kind})\n"
        f"           {fits}\n"
        f"           {source}{number}{listed.title}"
    )


def match_report(match: Match) -> dict[str, object]:
    """One match for `find --json` (docs/finding.md)."""
    listed, difference = match.tune, match.difference
    return {
        "title": listed.title,
        "number": listed.number,
        "file": listed.source,
        "type": listed.type,
        "key": listed.key,
        "meter": listed.meter,
        "score": round(match.score, 3),
        "first_bar": match.first_bar,
        "last_bar": match.last_bar,
        "semitones": match.semitones,
        "differences": {
            "wrong": difference.wrong,
            "missed": difference.missed,
            "added": difference.added,
            "octave": difference.octave,
            "rhythm": difference.rhythm,
        },
        "words": f"{_bars(match)}{_height(match.semitones)}; {_differs(difference)}",
    }


def _bars(match: Match) -> str:
    """`bars 5 to 7`; over the join of a repeat, `bars 8 to 1`."""
    first, last = (_bar(each) for each in (match.first_bar, match.last_bar))
    if match.first_bar == match.last_bar:
        return f"bar {first}" if match.first_bar else first
    if not match.first_bar:
        return f"{first} to bar {last}"
    return f"bars {first} to {last}" if match.last_bar else f"bar {first} to {last}"


def _bar(number: int) -> str:
    return str(number) if number else "the upbeat"


def _height(semitones: int | None) -> str:
    """`, a fourth lower`; nothing where only ups and downs were asked."""
    if semitones is None:
        return ""
    if semitones == 0:
        return f", {_INTERVALS[0]}"
    octaves, rest = divmod(abs(semitones), 12)
    where = "higher" if semitones > 0 else "lower"
    parts = []
    if octaves:
        parts.append("an octave" if octaves == 1 else f"{octaves} octaves")
    if rest:
        parts.append(_INTERVALS[rest])
    return f", {' and '.join(parts)} {where}"


def _differs(difference: Difference) -> str:
    """`1 note wrong, 2 added`; `all notes fit`."""
    parts = [
        f"{count} {word}"
        for count, word in (
            (difference.wrong, "wrong"),
            (difference.missed, "left out"),
            (difference.added, "added"),
            (difference.octave, "in another octave"),
        )
        if count
    ]
    if parts:
        first, rest = parts[0].split(" ", 1)
        parts[0] = f"{first} {'note' if first == '1' else 'notes'} {rest}"
    else:
        parts = ["all notes fit"]
    if difference.rhythm:
        parts.append(f"{difference.rhythm} much longer or shorter")
    return ", ".join(parts)
