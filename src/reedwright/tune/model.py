"""The written tune: an immutable model of what stands on the page.

Conventions
-----------
* Lengths and onsets are exact fractions of a quarter note (crotchet).
* A `Bar` is what stands between two bar lines. A bar that a repeat sign or an
  anacrusis cuts in two is two `Bar`s; `Bar.number` then says the printed number.
* Everything written has an `id` that stays the same in every export, and a
  `Place` (line and column, from 1) in the source that it was read from.
* Pitches are spelled (step, alter, octave), octave 4 starting at middle C, as
  in MusicXML and scientific pitch notation.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from reedwright.fifths import STEP_SEMITONES, STEPS

ACCIDENTAL_SIGNS = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}


class Place(NamedTuple):
    """Where something stands in its source file: line and column, both from 1."""

    line: int
    column: int


class Pitch(NamedTuple):
    """A spelled pitch. `alter` is in semitones (-1 flat, 1 sharp)."""

    step: str
    alter: int
    octave: int

    @property
    def midi(self) -> int:
        """MIDI note number; middle C (C4) is 60."""
        return 12 * (self.octave + 1) + STEP_SEMITONES[self.step] + self.alter

    @property
    def name(self) -> str:
        """For people: `F#4`, `Bb3`."""
        return f"{self.step}{ACCIDENTAL_SIGNS.get(self.alter, '?')}{self.octave}"

    def octaves_up(self, octaves: int) -> Pitch:
        return self._replace(octave=self.octave + octaves)


@dataclass(frozen=True, slots=True)
class Key:
    """A key: tonic, mode, and what the signature alters.

    `mode` is one of major, minor, dorian, phrygian, lydian, mixolydian,
    locrian, highland (bagpipe scale) or none. `accidentals` holds the
    alteration of C, D, E, F, G, A, B in this order, whatever made it so (mode
    or explicit accidentals). `estimated` is true where the source has no key
    and we worked one out. For key `none`, `step` is "C" and nothing is altered.
    """

    step: str = "C"
    alter: int = 0
    mode: str = "major"
    accidentals: tuple[int, int, int, int, int, int, int] = (0, 0, 0, 0, 0, 0, 0)
    estimated: bool = False
    clef: str = "treble"

    @property
    def tonic(self) -> str:
        """`G`, `F#`, `Bb`."""
        return self.step + ACCIDENTAL_SIGNS[self.alter]

    @property
    def tonic_pitch_class(self) -> int:
        """0 for C up to 11 for B."""
        return (STEP_SEMITONES[self.step] + self.alter) % 12

    @property
    def name(self) -> str:
        """`G major`, `E dorian`, `none`."""
        return "none" if self.mode == "none" else f"{self.tonic} {self.mode}"

    @property
    def fifths(self) -> int:
        """Sharps (positive) or flats (negative) of the signature, counted."""
        return sum(self.accidentals)

    def alteration(self, step: str) -> int:
        """What the signature does to this step, in semitones."""
        return self.accidentals[STEPS.index(step)]


@dataclass(frozen=True, slots=True)
class Meter:
    """A metre: `beats` over `unit`. Compound numerators keep their parts, (2, 3) over 8.

    `symbol` is "C" or "C|" where the metre was written so. A free metre
    (`M:none`) has no beats.
    """

    beats: tuple[int, ...] = (4,)
    unit: int = 4
    symbol: str | None = None

    @property
    def free(self) -> bool:
        return not self.beats

    @property
    def bar_length(self) -> Fraction | None:
        """Quarter notes in a full bar, or None in free metre."""
        return None if self.free else Fraction(4 * sum(self.beats), self.unit)

    @property
    def compound(self) -> bool:
        """6/8, 9/8, 12/8 and the like: the beat is a dotted note."""
        return len(self.beats) == 1 and self.beats[0] > 3 and self.beats[0] % 3 == 0

    @property
    def beat_length(self) -> Fraction:
        """Quarter notes in one notated beat (a dotted note in compound metres)."""
        one = Fraction(4, self.unit)
        return 3 * one if self.compound else one

    @property
    def name(self) -> str:
        """`6/8`, `2+3/8`, `none`."""
        return "none" if self.free else f"{'+'.join(map(str, self.beats))}/{self.unit}"


@dataclass(frozen=True, slots=True)
class Tempo:
    """A tempo mark: a beat of `beat` quarter notes, `bpm` of them a minute; or words alone."""

    beat: Fraction = Fraction(1)
    bpm: Fraction | None = None
    text: str = ""

    @property
    def quarters_per_minute(self) -> Fraction | None:
        return None if self.bpm is None else self.beat * self.bpm


@dataclass(frozen=True, slots=True)
class Tuplet:
    """`actual` notes in the time of `normal`. True on the first and last note of the group."""

    actual: int
    normal: int
    first: bool
    last: bool


@dataclass(frozen=True, slots=True)
class Grace:
    """A grace note. `length` is as written, in quarter notes; it takes no time of the bar."""

    id: str
    pitch: Pitch
    length: Fraction
    place: Place


class Annotation(NamedTuple):
    """Free text at a note. `where`: above, below, left, right or auto."""

    where: str
    text: str


class Lyric(NamedTuple):
    """One syllable. `hyphen`: the word goes on; `extends`: held over further notes."""

    text: str
    hyphen: bool = False
    extends: bool = False


@dataclass(frozen=True, slots=True)
class Note:
    """A note or chord.

    `pitches` stand in written order and `ties` says for each whether it is
    tied to the next note. `length` is what sounds, in quarter notes (the
    tuplet applied). `beamed`: the source joins this note to the next one.
    `explicit`: an accidental was written here in the source. `decorations`
    are the standard's long names (roll, trill, staccato, fermata, accent...).
    """

    id: str
    pitches: tuple[Pitch, ...]
    length: Fraction
    place: Place
    ties: tuple[bool, ...] = (False,)
    tuplet: Tuplet | None = None
    graces: tuple[Grace, ...] = ()
    slashed: bool = False
    slurs_open: int = 0
    slurs_close: int = 0
    decorations: tuple[str, ...] = ()
    chord_symbol: str = ""
    annotations: tuple[Annotation, ...] = ()
    lyrics: tuple[Lyric | None, ...] = ()
    beamed: bool = False
    explicit: bool = False

    @property
    def pitch(self) -> Pitch:
        """The melody note: the highest of a chord."""
        return self.pitches[0] if len(self.pitches) == 1 else max(self.pitches, key=_by_midi)

    @property
    def tied(self) -> bool:
        """Whether the melody note is tied to the next."""
        if len(self.pitches) == 1:
            return self.ties[0]
        return self.ties[self.pitches.index(self.pitch)]


def _by_midi(pitch: Pitch) -> int:
    return pitch.midi


@dataclass(frozen=True, slots=True)
class Rest:
    """Silence. `visible` is false for the invisible rest (`x`). `whole_bar`: fills the bar."""

    id: str
    length: Fraction
    place: Place
    visible: bool = True
    whole_bar: bool = False
    tuplet: Tuplet | None = None
    decorations: tuple[str, ...] = ()
    chord_symbol: str = ""
    annotations: tuple[Annotation, ...] = ()


@dataclass(frozen=True, slots=True)
class Change:
    """A change of key, metre or tempo inside a bar, or at its start."""

    place: Place
    key: Key | None = None
    meter: Meter | None = None
    tempo: Tempo | None = None


Event = Note | Rest | Change


class BarLine(StrEnum):
    """Shapes of a bar line, repeat dots apart."""

    NONE = "none"
    SINGLE = "single"
    DOUBLE = "double"
    FINAL = "final"  # thin, then thick: |]
    OPENING = "opening"  # thick, then thin: [|
    DOTTED = "dotted"
    INVISIBLE = "invisible"


@dataclass(frozen=True, slots=True)
class Bar:
    """What stands between two bar lines of one voice.

    `repeat_open`: a start-repeat at its left. `repeat_close`: how often the
    section that ends here is played (2 for `:|`, 3 for `::|`), 0 without a
    repeat sign. `ending`: the passes (from 1) for which a variant ending that
    begins here is played; empty where none begins. `ending_last`: the
    bracket's last bar. `part`: the `P:` label that stands at its start.
    `marks`: signs of navigation, any of segno, coda, fine, dacapo, dalsegno,
    tocoda, with `dacapo al fine` and the like spelled by what is there.
    `number` is printed: 0 for an anacrusis; both halves of a cut bar share it.
    `overlays`: further layers of the same bar (`&`).
    """

    index: int
    number: int
    events: tuple[Event, ...]
    key: Key
    meter: Meter
    place: Place
    opening: BarLine = BarLine.NONE
    closing: BarLine = BarLine.SINGLE
    repeat_open: bool = False
    repeat_close: int = 0
    ending: tuple[int, ...] = ()
    ending_last: bool = False
    part: str | None = None
    marks: tuple[str, ...] = ()
    line_end: bool = False
    overlays: tuple[tuple[Event, ...], ...] = ()

    @property
    def length(self) -> Fraction:
        """Quarter notes that stand in it."""
        # Whole numbers over one denominator: sums of fractions are slow, and bars are many.
        top, bottom = 0, 1
        for event in self.events:
            if isinstance(event, Change):
                continue
            length = event.length
            if length.denominator == bottom:
                top += length.numerator
            else:
                top = top * length.denominator + length.numerator * bottom
                bottom *= length.denominator
        return Fraction(top, bottom)

    @property
    def notes(self) -> tuple[Note, ...]:
        return tuple(e for e in self.events if isinstance(e, Note))


@dataclass(frozen=True, slots=True)
class Voice:
    """One voice: its name (`1` where the source names none), its title, its bars."""

    name: str
    bars: tuple[Bar, ...]
    title: str = ""

    @property
    def notes(self) -> Iterator[Note]:
        return (note for bar in self.bars for note in bar.notes)


class Field(NamedTuple):
    """An information field as it stands in the source: `C`, `Anon`."""

    code: str
    text: str
    place: Place


class Severity(StrEnum):
    """What became of a problem: repaired (one sensible reading), or only told."""

    REPAIRED = "repaired"
    WARNING = "warning"


@dataclass(frozen=True, slots=True)
class Problem:
    """Something odd in the source that did not stop the tune from being read."""

    severity: Severity
    message: str
    place: Place
    bar: int | None = None

    def __str__(self) -> str:
        where = f"line {self.place.line}, column {self.place.column}"
        if self.bar is not None:
            where += f", bar {self.bar}"
        return f"{where}: {self.message}"


@dataclass(frozen=True, slots=True)
class Tune:
    """One tune. `bars` are those of the first voice: the tune, unless asked.

    `fields` keeps every information field of the header in order, also those
    that other attributes are made from. `part_order` is `P:` of the header
    played out ("A", "A", "B"), empty where there is none. `text` is the source
    text unchanged (empty for MusicXML and MIDI).
    """

    number: str
    titles: tuple[str, ...]
    key: Key
    meter: Meter
    voices: tuple[Voice, ...]
    unit_length: Fraction = Fraction(1, 2)
    tempo: Tempo | None = None
    type: str = ""
    fields: tuple[Field, ...] = ()
    part_order: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()
    source: str = ""
    text: str = field(default="", repr=False)

    @property
    def title(self) -> str:
        return self.titles[0] if self.titles else "Untitled"

    @property
    def bars(self) -> tuple[Bar, ...]:
        return self.voices[0].bars if self.voices else ()

    def field_texts(self, code: str) -> tuple[str, ...]:
        """The texts of all header fields with this letter."""
        return tuple(f.text for f in self.fields if f.code == code)
