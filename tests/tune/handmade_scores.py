"""Tunes built by hand from a few words, for tests that must not lean on the ABC reader.

`G2 B d' | {c} e f` and so on: step, octave marks (' up, , down, from octave 4),
sharps (#) and flats (b) before the step are the pitch itself, a number is the length in
quavers, `-` ties, `z` rests, `(` and `)` slur, `_` after a note joins it to the next.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction

from reedwright.fifths import STEPS
from reedwright.tune.model import (
    Bar,
    BarLine,
    Field,
    Grace,
    Key,
    Meter,
    Note,
    Pitch,
    Place,
    Rest,
    Tune,
    Voice,
)

_TOKEN = re.compile(r"(\(*)(\{[^}]*\})?(#|b|=)?([A-Gz])([',]*)(\d+(?:/\d+)?)?(-)?(\)*)(_)?\Z")
G_MAJOR = Key("G", 0, "major", (0, 0, 0, 1, 0, 0, 0))
C_MAJOR = Key()
HERE = Place(1, 1)


def bar_notes(text: str, key: Key, first: int) -> tuple[Note | Rest, ...]:
    """The notes of one bar; ids are n1, n2... from `first`."""
    events: list[Note | Rest] = []
    for number, word in enumerate(text.split(), start=first):
        found = _TOKEN.match(word)
        assert found, word
        opens, graces, sign, step, octaves, length, tie, closes, joined = found.groups()
        quarters = Fraction(length or 1) / 2
        if step == "z":
            events.append(Rest(f"n{number}", quarters, HERE))
            continue
        events.append(
            Note(
                f"n{number}",
                (_pitch(sign, step, octaves, key),),
                quarters,
                HERE,
                ties=(bool(tie),),
                graces=tuple(
                    Grace(f"n{number}g{i}", _pitch(None, g[0], g[1:], key), Fraction(1, 4), HERE)
                    for i, g in enumerate((graces or "")[1:-1].split("."), 1)
                    if g
                ),
                slurs_open=len(opens),
                slurs_close=len(closes),
                beamed=bool(joined),
                explicit=bool(sign),
            )
        )
    return tuple(events)


def make_bars(
    lines: Sequence[str], key: Key = G_MAJOR, meter: Meter | None = None, anacrusis: bool = False
) -> tuple[Bar, ...]:
    """Bars from texts; `|:` before and `:|` after a text are repeats, `[1` an ending."""
    chosen = meter or Meter((4,), 4, "C|")
    bars = []
    count = 1
    for index, line in enumerate(lines):
        text = line
        opened = text.startswith("|:")
        closed = text.endswith(":|")
        text = text.removeprefix("|:").removesuffix(":|").strip()
        ending: tuple[int, ...] = ()
        if text.startswith("["):
            ending = (int(text[1]),)
            text = text[2:]
        events = bar_notes(text, key, count)
        count += len(events)
        last = index == len(lines) - 1
        bars.append(
            Bar(
                index,
                index if anacrusis else index + 1,
                events,
                key,
                chosen,
                HERE,
                closing=BarLine.FINAL if last else BarLine.SINGLE,
                repeat_open=opened,
                repeat_close=2 if closed else 0,
                ending=ending,
                ending_last=bool(ending),
            )
        )
    return tuple(bars)


def make_tune(
    lines: Sequence[str],
    key: Key = G_MAJOR,
    meter: Meter | None = None,
    title: str = "Made by Hand",
    fields: Sequence[tuple[str, str]] = (),
    anacrusis: bool = False,
    kind: str = "reel",
) -> Tune:
    bars = make_bars(lines, key, meter, anacrusis)
    return Tune(
        "1",
        (title,),
        key,
        bars[0].meter,
        (Voice("1", bars),),
        type=kind,
        fields=tuple(Field(code, text, HERE) for code, text in fields),
    )


def _pitch(sign: str | None, step: str, octaves: str, key: Key) -> Pitch:
    alter = {None: key.alteration(step), "#": 1, "b": -1, "=": 0}[sign]
    assert step in STEPS
    return Pitch(step, alter, 4 + octaves.count("'") - octaves.count(","))


REEL = (
    "D,2".replace(",", ""),
    "|:G2 B_ G D_ G B_ D'",
    "G'2 F'_ G' E'_ D' B_ D'",
    "{D'}C'2 E'_ C' {C'}B2 D'_ B",
    "A2 B_ A G_ E D_ E",
    "G2 B_ G D_ G B_ D'",
    "G'_ A' G'_ E' D'_ B G_ B",
    "C'_ E' D'_ C' B_ A G_ F",
    "[1A_ G F_ A G2 D2:|",
    "[2A_ G F_ A G2 B_ C'",
    "|:D'2 G'_ D' B_ D' G'_ B'",
    "A'_ G' F'_ A' G'_ E' D'_ B",
    "{D'}C'2 E'_ C' B_ D' C'_ B",
    "A_ G A_ B C'2 B_ C'",
    "D'_ B G_ B D'_ B G'_ B",
    "A'_ G' F'_ D' E'_ D' B_ G",
    "C'_ B A_ G F_ A D'_ C'",
    "[1B_ G A_ F G2 B_ C':|",
    "[2B_ G A_ F G4",
)
