"""The small words of a report: places, pitches, cents, times, ways.

Public: `place_words`, `cents_words`, `beat_words`, `instead_words`, `time_words`, `when`.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from reedwright.harp.model import Sounding, Technique
from reedwright.tab.words import bars_text, bend_words, ordinal_word, short_words
from reedwright.takes.report.model import JudgedNote, Place


def clock_time(seconds: float) -> str:
    """`1:07` for 67.2 seconds into the recording."""
    whole = max(0, int(seconds))
    return f"{whole // 60}:{whole % 60:02}"


def beat_words(beat: Fraction) -> str:
    """`second beat`, `after the second beat`."""
    whole = int(beat)
    word = f"{ordinal_word(whole)} beat"
    return word if beat == whole else f"after the {word}"


def time_words(place: Place) -> str:
    """`part A, second time`; nothing where there are no parts."""
    if not place.part:
        return ""
    return f"part {place.part}, {ordinal_word(place.part_time)} time"


def bar_words(number: int) -> str:
    return f"bar {number}" if number else "upbeat"


def place_words(place: Place) -> str:
    """`bar 5, second beat (part A, second time)`."""
    words = f"{bar_words(place.bar)}, {beat_words(place.beat)}"
    times = time_words(place)
    return f"{words} ({times})" if times else words


def where(places: Iterable[Place]) -> str:
    """One place in full, several by their bars: `bars 3 and 7`."""
    all_ = list(places)
    if len(all_) == 1:
        return place_words(all_[0])
    bars = {place.bar for place in all_}
    words = bars_text(bars)
    if len(bars) == 1 and len({p.beat for p in all_}) == 1:
        words += f", {beat_words(all_[0].beat)}"
    return f"{words}, {'twice' if len(all_) == 2 else f'{len(all_)} times'}"


def cents_words(cents: float) -> str:
    """`38 cents sharp`, `5 cents flat`, `in tune` within half a cent."""
    whole = round(cents)
    if not whole:
        return "in tune"
    return f"{abs(whole)} cent{'s' if abs(whole) != 1 else ''} {'sharp' if whole > 0 else 'flat'}"


def instead_words(note: JudgedNote) -> str:
    """How a wrong note was probably made, as a clause; empty where nothing tells."""
    meant, made = note.sounding, note.instead
    if made is None:
        return "this harp does not have that note, so it may have been misheard"
    if made.technique.overbend and not (meant and meant.technique.overbend):
        over = f"{made.technique.value} on hole {made.hole}"
        return f"on this harp that is an {over}, so it may have been misheard"
    if meant is None:
        return f"you were probably on {hole_words(made)}"
    slip = _slip(meant, made)
    return f"you were probably on {hole_words(made)} instead of {hole_words(meant)}{slip}"


def hole_words(way: Sounding) -> str:
    """`hole 3 draw bent a whole tone`."""
    return f"hole {short_words(way)}"


def _slip(meant: Sounding, made: Sounding) -> str:
    if meant.hole == made.hole and meant.breath is made.breath:
        if made.technique is Technique.NATURAL and meant.bend:
            return ": the bend was not made"
        if made.bend and meant.bend:
            return f": bent {bend_words(made.bend)}, not {bend_words(meant.bend)}"
        return ""
    if meant.hole == made.hole:
        return ": the other breath"
    if abs(meant.hole - made.hole) == 1 and meant.breath is made.breath:
        return f": one hole too {'high' if made.hole > meant.hole else 'low'}"
    return ""
