"""Notes, chords, rests and changes as music code.

Accidentals are written where the reader would else hear another pitch, and where
the source had one (`Note.explicit`); so this keeps the same account of accidentals
as the reader: they hold for the bar in all octaves, ties carry them over the bar
line, those of grace notes hold for their group.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from functools import lru_cache

from reedwright.fifths import STEPS
from reedwright.tune.abc.fieldtexts import SIGNS, key_text, meter_text, tempo_text
from reedwright.tune.abc.keys import clef_octaves
from reedwright.tune.abc.mnemonics import encode_text
from reedwright.tune.abc.scanner import TUPLET_TIMES
from reedwright.tune.abc.texts import SIDE_SIGNS, read_quoted
from reedwright.tune.model import (
    Bar,
    BarLine,
    Change,
    Event,
    Key,
    Meter,
    Note,
    Pitch,
    Rest,
    Tempo,
)


def tuplet_sizes(events: Iterable[Event]) -> dict[str, int]:
    """How many notes and rests each tuplet holds, by the id of its first."""
    sizes: dict[str, int] = {}
    first = ""
    for event in events:
        if isinstance(event, Change):
            continue
        tuplet = event.tuplet
        if tuplet is None:
            first = ""
            continue
        if tuplet.first or not first:
            first = event.id
            sizes[first] = 0
        sizes[first] += 1
        if tuplet.last:
            first = ""
    return sizes


class EventWriter:
    """Writes the events of one voice in order."""

    def __init__(self, unit: Fraction, short: Mapping[str, str]) -> None:
        self.unit = unit
        self.short = short
        self.key = Key()
        self.meter = Meter()
        self.sizes: dict[str, int] = {}
        self.alters: dict[str, int] = {}
        self.carried: dict[tuple[str, int], int] = {}
        self.last: Note | Rest | None = None
        self.octave = 0

    def start(self, sizes: dict[str, int]) -> None:
        """Begin a voice whose tuplets have these sizes."""
        self.sizes = sizes

    def set_key(self, key: Key) -> None:
        """The key from here on."""
        self.key = key
        self.octave = clef_octaves(key.clef)
        self.alters = dict(zip(STEPS, key.accidentals, strict=True))

    def set_meter(self, meter: Meter) -> None:
        """The metre from here on."""
        self.meter = meter

    def end_bar(self, bar: Bar) -> None:
        """A bar line: accidentals end, ties carry theirs over."""
        if bar.closing is not BarLine.NONE:
            self.alters = dict(zip(STEPS, self.key.accidentals, strict=True))
        last = self.last
        if isinstance(last, Note) and any(last.ties):
            self.carried = {
                (p.step, p.octave): p.alter
                for p, tied in zip(last.pitches, last.ties, strict=True)
                if tied
            }

    def write(self, events: Sequence[Event], key: Key, before_first: str = "") -> str:
        """A bar's events. `before_first`: signs that belong before its first note."""
        pieces: list[str] = []
        space = ""
        halved: Event | None = None  # the second note of a dotted pair written with `>`
        for at, event in enumerate(events):
            if isinstance(event, Change):
                pieces.append(space + self._change(event))
                space = " "
                continue
            following = events[at + 1] if at + 1 < len(events) else None
            doubled = event is halved
            pair = not doubled and _dotted_pair(event, following)
            halved = following if pair else None
            factor = Fraction(3, 2) if pair == ">" else Fraction(1, 2)
            if doubled:
                factor = Fraction(1, 2) if self._pair == ">" else Fraction(3, 2)
            elif pair:
                self._pair = pair
            text = self._event(event, before_first, factor if pair or doubled else Fraction(1))
            pieces.append(space + text + (pair or ""))
            before_first = ""
            beamed = isinstance(event, Note) and event.beamed
            space = "" if beamed else " "
        if not any(not isinstance(e, Change) for e in events):
            length = self.meter.bar_length or Fraction(4)
            pieces.append(space + "x" + self._length(length))
        return "".join(pieces)

    _pair = ""

    def write_overlay(self, events: Sequence[Event]) -> str:
        """Another layer of the bar: it starts with the key's accidentals, as in the reader."""
        main = self.last
        self.alters = dict(zip(STEPS, self.key.accidentals, strict=True))
        self.sizes |= tuplet_sizes(events)
        text = self.write(events, self.key)
        if main is None:
            self.last = None
        return text

    # -- one event --------------------------------------------------------------------------

    def _change(self, change: Change) -> str:
        text = ""
        if change.key is not None:
            text += f"[K:{key_text(change.key, self.key.clef)}]"
            self.set_key(change.key)
        if change.meter is not None:
            text += f"[M:{meter_text(change.meter)}]"
            self.meter = change.meter
        if change.tempo is not None:
            text += f"[Q:{_tempo(change.tempo)}]"
        return text

    def _event(self, event: Note | Rest, signs: str, factor: Fraction) -> str:
        text = ""
        tuplet = event.tuplet
        length = event.length / factor
        if tuplet is not None:
            length = length * tuplet.actual / tuplet.normal
            size = self.sizes.get(event.id)
            if size is not None:
                default = TUPLET_TIMES.get(tuplet.actual) == tuplet.normal
                plain = default and size == tuplet.actual
                text = f"({tuplet.actual}" + ("" if plain else f":{tuplet.normal}:{size}")
        if isinstance(event, Note):
            text += "(" * event.slurs_open
            if event.graces:
                text += self._graces(event)
        text += self._words(event) + signs
        for name in event.decorations:
            text += self.short.get(name) or f"!{name}!"
        if isinstance(event, Note):
            text += self._pitches(event, length) + ")" * event.slurs_close
        else:
            text += self._rest(event, length)
        self.last = event
        return text

    def _words(self, event: Note | Rest) -> str:
        text = ""
        if event.chord_symbol:
            quoted = _quoted(event.chord_symbol)
            sign = "" if read_quoted(quoted)[0] == event.chord_symbol else "^"
            text = f'"{sign}{quoted}"'
        for where, words in event.annotations:
            text += f'"{SIDE_SIGNS.get(where, "^")}{_quoted(words)}"'
        return text

    def _graces(self, note: Note) -> str:
        kept = dict(self.alters)
        inside = "".join(self._pitch(g.pitch, False) + self._length(g.length) for g in note.graces)
        self.alters = kept
        return "{" + ("/" if note.slashed else "") + inside + "}"

    def _pitches(self, note: Note, length: Fraction) -> str:
        if len(note.pitches) == 1:
            text = self._pitch(note.pitches[0], note.explicit) + self._length(length)
            tie = note.ties[0]
        else:
            tie = all(note.ties)
            explicit = note.explicit and not any(self._needs(p) for p in note.pitches)
            inside = ""
            for pitch, tied in zip(note.pitches, note.ties, strict=True):
                inside += self._pitch(pitch, explicit) + ("-" if tied and not tie else "")
                explicit = False
            text = f"[{inside}]{self._length(length)}"
        self.carried = {}
        return text + ("-" if tie else "")

    def _needs(self, pitch: Pitch) -> bool:
        expected = self.carried.get((pitch.step, pitch.octave), self.alters.get(pitch.step, 0))
        return expected != pitch.alter

    def _pitch(self, pitch: Pitch, explicit: bool) -> str:
        sign = ""
        if explicit or self._needs(pitch):
            sign = SIGNS[pitch.alter]
            self.alters[pitch.step] = pitch.alter
        return sign + _letter(pitch.step, pitch.octave - self.octave)

    def _rest(self, rest: Rest, length: Fraction) -> str:
        full = self.meter.bar_length or Fraction(4)
        if rest.whole_bar and length == full:
            return "Z" if rest.visible else "X"
        return ("z" if rest.visible else "x") + self._length(length)

    def _length(self, length: Fraction) -> str:
        units = length / self.unit
        return _length_text(units.numerator, units.denominator)


@lru_cache(maxsize=1024)
def _length_text(top: int, bottom: int) -> str:
    if bottom == 1:
        return "" if top == 1 else str(top)
    if bottom == 2:
        return "/" if top == 1 else f"{top}/2"
    return f"/{bottom}" if top == 1 else f"{top}/{bottom}"


@lru_cache(maxsize=256)
def _letter(step: str, octave: int) -> str:
    if octave >= 5:
        return step.lower() + "'" * (octave - 5)
    return step + "," * (4 - octave)


def _dotted_pair(event: Event, following: Event | None) -> str:
    """`>` or `<` where two beamed notes are a dotted one and a short one, else nothing."""
    if not (isinstance(event, Note) and isinstance(following, Note)):
        return ""
    if not event.beamed or event.tuplet or following.tuplet:
        return ""
    if any(event.ties) or event.slurs_close:
        return ""
    if event.length == 3 * following.length:
        return ">"
    return "<" if following.length == 3 * event.length else ""


def _quoted(text: str) -> str:
    return encode_text(text).replace('"', "&quot;")


def _tempo(tempo: Tempo) -> str:
    return tempo_text(tempo).replace("]", ")")
