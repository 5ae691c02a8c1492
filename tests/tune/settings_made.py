"""Settings of a tune made by rule, to be recognised: other key, note lengths, ornaments, bar lines.

Used by the tests of sameness and by benchmarks/sameness.py. A setting is written as ABC and
read again, so that reading, ties and repeats take part. Pitches are written with accidentals of
their own in a signature of no sharps or flats.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import NamedTuple

import numpy as np

from reedwright.tune.abc import read_abc
from reedwright.tune.model import Change, Meter, Note, Tune
from reedwright.tune.unfold import unfold

FEWEST = 8  # notes of a part that stands alone
NAMES = ("=C", "^C", "=D", "^D", "=E", "=F", "^F", "=G", "^G", "=A", "^A", "=B")


class Played(NamedTuple):
    """A note (MIDI) or rest (None) of some quarter notes. `tied`: held into the next."""

    midi: int | None
    length: Fraction
    tied: bool = False
    graces: tuple[int, ...] = ()


class Written(NamedTuple):
    """A bar with its repeat signs and endings."""

    notes: tuple[Played, ...]
    opens: bool = False
    closes: bool = False
    ending: str = ""


class Setting(NamedTuple):
    meter: Meter
    bars: tuple[Written, ...]


Random = np.random.Generator
Making = Callable[[Setting, Random], Setting]


def as_written(tune: Tune) -> Setting:
    """The first voice with its bars, graces left out."""
    bars = []
    for bar in tune.bars:
        notes = tuple(
            Played(event.pitch.midi, event.length, event.tied)
            if isinstance(event, Note)
            else Played(None, event.length)
            for event in bar.events
            if not isinstance(event, Change)
        )
        ending = ",".join(map(str, bar.ending))
        bars.append(Written(notes, bar.repeat_open, bar.repeat_close > 1, ending))
    return Setting(tune.meter, tuple(bars))


def moved(setting: Setting, random: Random) -> Setting:
    """In another key, up or down by as much as a seventh."""
    steps = int(random.choice([k for k in range(-11, 12) if k]))
    return _each(setting, lambda note: note._replace(midi=_by(note.midi, steps)))


def halved(setting: Setting, random: Random) -> Setting:
    return _scaled(setting, Fraction(1, 2))


def doubled(setting: Setting, random: Random) -> Setting:
    return _scaled(setting, Fraction(2))


def regraced(setting: Setting, random: Random) -> Setting:
    """One note in four ornamented: a cut, a re-tonguing, a turn in short notes, a pair made
    dotted or a triplet."""
    return setting._replace(
        bars=tuple(bar._replace(notes=_ornamented(bar.notes, random)) for bar in setting.bars)
    )


def rebarred(setting: Setting, random: Random) -> Setting:
    """Repeats written out, and bars of half or twice the length, or begun a beat later."""
    length = setting.meter.bar_length or Fraction(4)
    notes = _played(setting)
    kind = int(random.integers(3))
    if kind == 2:
        return _barred(notes, setting.meter, setting.meter.beat_length, length)
    beats, unit = sum(setting.meter.beats or (4,)), setting.meter.unit
    if kind == 1 and beats % 2 == 0:
        return _barred(notes, Meter((beats // 2,), unit), Fraction(0), length / 2)
    return _barred(notes, Meter((beats * 2,), unit), Fraction(0), length * 2)


def written_out_once(setting: Setting) -> Setting:
    """Repeats written out, in bars of the same length."""
    length = setting.meter.bar_length or Fraction(4)
    return _barred(_played(setting), setting.meter, Fraction(0), length)


def swapped(setting: Setting, random: Random) -> Setting:
    """The second half of what is written first."""
    middle = _middle(setting)
    return setting._replace(bars=_closed(setting.bars[middle:]) + _closed(setting.bars[:middle]))


def one_part(setting: Setting, random: Random) -> Setting:
    """One half of what is written, either; where one has hardly any notes, the other."""
    middle = _middle(setting)
    halves = (setting.bars[:middle], setting.bars[middle:])
    notes = [sum(len(bar.notes) for bar in half) for half in halves]
    chosen = int(random.integers(2))
    if notes[chosen] < FEWEST:
        chosen = int(notes[1] > notes[0])
    return setting._replace(bars=_closed(halves[chosen]))


def varied(setting: Setting, random: Random) -> Setting:
    """One note in eight a step or two of its scale higher or lower."""
    scale = sorted({note.midi % 12 for bar in setting.bars for note in bar.notes if note.midi})

    def change(note: Played) -> Played:
        if note.midi is None or note.tied or random.random() > 1 / 8:
            return note
        steps = int(random.choice([-2, -1, 1, 2]))
        midi = note.midi
        for _ in range(abs(steps)):
            midi += 1 if steps > 0 else -1
            while midi % 12 not in scale:
                midi += 1 if steps > 0 else -1
        return note._replace(midi=midi)

    return _each(setting, change)


def mixed(setting: Setting, random: Random) -> Setting:
    """Another key, other lengths, ornaments and bar lines."""
    for making in (moved, (halved, doubled)[int(random.integers(2))], regraced, rebarred):
        setting = making(setting, random)
    return setting


def all_at_once(setting: Setting, random: Random) -> Setting:
    """The same, and some other notes."""
    return varied(mixed(setting, random), random)


MAKINGS: dict[str, Making] = {
    "another key": moved,
    "notes half as long": halved,
    "notes twice as long": doubled,
    "other ornaments": regraced,
    "other bar lines, repeats written out": rebarred,
    "all of these": mixed,
    "some other notes": varied,
    "all of these, and some other notes": all_at_once,
    "parts in another order": swapped,
    "one part only": one_part,
}


def written(setting: Setting, title: str = "Made") -> str:
    """As ABC."""
    out: list[str] = []
    for bar in setting.bars:
        out.append("|:" if bar.opens else "|")
        if bar.ending:
            out.append(f"[{bar.ending} ")
        out.extend(_sign(note) for note in bar.notes)
        if bar.closes:
            out.append(":")
    return f"X:1\nT:{title}\nM:{setting.meter.name}\nL:1/4\nK:C\n{''.join(out)}|]\n"


def read(setting: Setting) -> Tune:
    (tune,) = read_abc(written(setting))
    assert isinstance(tune, Tune)
    return tune


def made(tune: Tune, making: Making, random: Random) -> Tune:
    return read(making(as_written(tune), random))


def _by(midi: int | None, steps: int) -> int | None:
    return None if midi is None else midi + steps


def _each(setting: Setting, change: Callable[[Played], Played]) -> Setting:
    """Every note changed; what a tie holds stays one note."""
    bars = []
    held: int | None = None
    for bar in setting.bars:
        notes = []
        for note in bar.notes:
            changed = change(note)
            if held is not None:
                changed = note._replace(midi=held)
            held = changed.midi if note.tied else None
            notes.append(changed)
        bars.append(bar._replace(notes=tuple(notes)))
    return setting._replace(bars=tuple(bars))


def _scaled(setting: Setting, factor: Fraction) -> Setting:
    meter = setting.meter
    if not meter.free:
        unit = Fraction(meter.unit) / factor
        meter = (
            Meter(meter.beats, int(unit))
            if unit.denominator == 1
            else Meter((sum(meter.beats) * factor.numerator,), meter.unit)
        )
    bars = tuple(
        bar._replace(notes=tuple(note._replace(length=note.length * factor) for note in bar.notes))
        for bar in setting.bars
    )
    return Setting(meter, bars)


def _ornamented(notes: tuple[Played, ...], random: Random) -> tuple[Played, ...]:
    found: list[Played] = []
    k = 0
    while k < len(notes):
        note = notes[k]
        k += 1
        if note.midi is None or note.tied or random.random() > 1 / 4:
            found.append(note)
            continue
        above = note.midi + int(random.choice([1, 2]))
        following = notes[k] if k < len(notes) else None
        pair = following is not None and following.midi is not None and not following.tied
        kind = int(random.integers(5))
        if kind == 0:
            found.append(note._replace(graces=(above,)))
        elif kind == 1:
            found += [note._replace(length=note.length / 2)] * 2
        elif kind == 2:
            short = note.length / 4
            found += [Played(note.midi, short), Played(above, short), Played(note.midi, 2 * short)]
        elif kind == 3 and pair and following is not None and following.length == note.length:
            found += [
                note._replace(length=note.length * 3 / 2),
                following._replace(length=note.length / 2),
            ]
            k += 1
        else:
            third = note.length / 3
            found += [Played(midi, third) for midi in (note.midi, above, note.midi)]
    return tuple(found)


def _played(setting: Setting) -> list[Played]:
    """All notes and rests in the order of playing, ties kept."""
    return [
        Played(event.pitch.midi, event.length, event.tied)
        if isinstance(event, Note)
        else Played(None, event.length)
        for bar in unfold(read(setting)).bars
        for event in bar.bar.events
        if not isinstance(event, Change)
    ]


def _barred(notes: list[Played], meter: Meter, first: Fraction, length: Fraction) -> Setting:
    """Notes put into bars, the first of them `first` long if that is more than none."""
    bars: list[Written] = []
    bar: list[Played] = []
    room = first or length
    for note in notes:
        left = note
        while left.length > 0:
            here = min(left.length, room)
            parted = here < left.length
            bar.append(left._replace(length=here, tied=parted or left.tied))
            left = left._replace(length=left.length - here)
            room -= here
            if not room:
                bars.append(Written(tuple(bar)))
                bar, room = [], length
    if bar:
        bars.append(Written(tuple(bar)))
    return Setting(meter, tuple(bars))


def _middle(setting: Setting) -> int:
    """The bar where the second half begins: at a repeat sign where there is one."""
    signs = [
        k
        for k in range(1, len(setting.bars))
        if setting.bars[k].opens or (setting.bars[k - 1].closes and not setting.bars[k].ending)
    ]
    half = len(setting.bars) // 2
    return min(signs, key=lambda k: abs(k - half)) if signs else max(1, half)


def _closed(bars: tuple[Written, ...]) -> tuple[Written, ...]:
    """A part that stands alone: no tie leads out of it."""
    if not bars or not bars[-1].notes:
        return bars
    last = bars[-1]
    notes = (*last.notes[:-1], last.notes[-1]._replace(tied=False))
    return (*bars[:-1], last._replace(notes=notes))


def _sign(note: Played) -> str:
    length = f"{note.length.numerator}/{note.length.denominator}"
    if note.midi is None:
        return f"z{length}"
    graces = f"{{{''.join(_name(midi) for midi in note.graces)}}}" if note.graces else ""
    return f"{graces}{_name(note.midi)}{length}{'-' if note.tied else ''}"


def _name(midi: int) -> str:
    name, octave = NAMES[midi % 12], midi // 12 - 5
    return name + "," * -octave + "'" * octave
