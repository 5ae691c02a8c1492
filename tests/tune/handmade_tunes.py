"""Tunes made by hand for tests, without the ABC reader.

`tune_of("|:C D|1 E:|2 F||")`: letters are quarter notes from C4 (lower case an
octave higher), `-` after a letter ties it, `z` is a rest, bar lines are
those of ABC, `[P:A]` is a part label, `!segno!` and the like are marks.
"""

import re
from collections.abc import Sequence
from fractions import Fraction

from reedwright.tune.model import (
    Bar,
    BarLine,
    Event,
    Key,
    Meter,
    Note,
    Pitch,
    Place,
    Rest,
    Tune,
    Voice,
)
from reedwright.tune.unfold import Performance

_TOKEN = re.compile(
    r"(?P<part>\[P:(?P<label>\w+)\])|!(?P<mark>[a-z]+)!"
    r"|(?P<line>(?P<colons>:*)(?:\|\||\|\]|\[\||\||(?<=:))(?P<dots>:*)(?P<ending>\d[\d,]*)?|\[(?P<bracket>\d[\d,]*))"
    r"|(?P<note>[A-Ga-gz])(?P<length>\d+)?(?P<tie>-)?"
)


def tune_of(
    written: str,
    part_order: Sequence[str] = (),
    key: Key | None = None,
    meter: Meter | None = None,
    length: Fraction = Fraction(1),
) -> Tune:
    """A tune of one voice."""
    bars = bars_of(written, key or Key(), meter or Meter(), length)
    return Tune(
        number="1",
        titles=("Made by hand",),
        key=key or Key(),
        meter=meter or Meter(),
        voices=(Voice("1", bars),),
        part_order=tuple(part_order),
    )


def bars_of(written: str, key: Key, meter: Meter, length: Fraction) -> tuple[Bar, ...]:
    bars: list[Bar] = []
    fresh: dict[str, object] = {}
    events: list[Event] = []
    count = 0

    def close(**closing: object) -> None:
        nonlocal fresh, events
        if events:
            bars.append(
                Bar(
                    index=len(bars),
                    number=len(bars) + 1,
                    events=tuple(events),
                    key=key,
                    meter=meter,
                    place=Place(1, 1),
                    **{**fresh, **closing},  # type: ignore[arg-type]
                )
            )
            fresh, events = {}, []

    for found in _TOKEN.finditer(written):
        if found["part"]:
            fresh["part"] = found["label"]
        elif found["mark"]:
            fresh["marks"] = (*fresh.get("marks", ()), found["mark"])  # type: ignore[misc]
        elif found["note"]:
            place = Place(1, found.start() + 1)
            letter = found["note"]
            taken = length * int(found["length"] or 1)
            count += 1
            if letter == "z":
                events.append(Rest(f"n{count}", taken, place))
            else:
                pitch = Pitch(letter.upper(), key.alteration(letter.upper()), 4 + letter.islower())
                tied = (bool(found["tie"]),)
                events.append(Note(f"n{count}", (pitch,), taken, place, ties=tied))
        else:
            sign = found["line"]
            shape = BarLine.SINGLE
            if "||" in sign:
                shape = BarLine.DOUBLE
            elif "|]" in sign:
                shape = BarLine.FINAL
            colons, dots = len(found["colons"] or ""), len(found["dots"] or "")
            if sign == "::":
                colons = dots = 1
            close(repeat_close=colons + 1 if colons else 0, closing=shape)
            if dots:
                fresh["repeat_open"] = True
            numbers = found["ending"] or found["bracket"]
            if numbers:
                fresh["ending"] = tuple(int(n) for n in numbers.split(",") if n)
    close()
    return tuple(bars)


def letters(performance: Performance) -> str:
    """The played notes as letters: `CDCE`."""
    return "".join(
        n.note.pitch.step if n.note.pitch.octave < 5 else n.note.pitch.step.lower()
        for n in performance.notes
    )
