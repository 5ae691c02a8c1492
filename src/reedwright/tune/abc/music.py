"""The music-line parser: one voice, its lines read word by word into bars of drafts."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

from reedwright.tune.abc.drafts import BarDraft, EventDraft, GraceDraft, NoteDraft
from reedwright.tune.abc.errors import AbcError
from reedwright.tune.abc.keys import clef_octaves
from reedwright.tune.abc.scanner import (
    TOKEN,
    TUPLET_TIMES,
    BadLength,
    read_bar,
    read_ending,
    read_length,
    read_note,
)
from reedwright.tune.abc.state import TuneState
from reedwright.tune.abc.symbols import (
    LONG_DECORATIONS,
    NAVIGATION,
    SYNONYMS,
    TARGETS,
)
from reedwright.tune.abc.texts import read_quoted
from reedwright.tune.model import (
    STEPS,
    Annotation,
    BarLine,
    Change,
    Key,
    Meter,
    Pitch,
    Place,
    Tempo,
    Tuplet,
)

LOWEST_OCTAVE, HIGHEST_OCTAVE = -1, 9  # the octaves of MIDI
MOST_WHOLE_RESTS = 500  # bars of rest that one `Z` may stand for
SHAPE_RANK = {shape: rank for rank, shape in enumerate(BarLine)}
SHAPE_RANK |= {
    BarLine.NONE: 0,
    BarLine.INVISIBLE: 1,
    BarLine.DOTTED: 2,
    BarLine.SINGLE: 3,
    BarLine.DOUBLE: 4,
    BarLine.OPENING: 5,
    BarLine.FINAL: 6,
}
LARGEST_TUPLET = 64


@lru_cache(maxsize=4096)
def _pitch(step: str, alter: int, octave: int) -> Pitch:
    return Pitch(step, alter, octave)


@lru_cache(maxsize=256)
def _tuplet(actual: int, normal: int, first: bool, last: bool) -> Tuplet:
    return Tuplet(actual, normal, first, last)


@lru_cache(maxsize=256)
def _alters(key: Key) -> dict[str, int]:
    return dict(zip(STEPS, key.accidentals, strict=True))


class VoiceReader:
    """Reads the lines of one voice. The bars gather in `bars`, the open one is `bar`."""

    def __init__(self, name: str, state: TuneState, key: Key, meter: Meter, unit: Fraction) -> None:
        self.name = name
        self.title = ""
        self.state = state
        self.key = key
        self.meter = meter
        self.unit_top, self.unit_bottom = unit.numerator, unit.denominator
        self.extra_octaves = state.octave  # by octave=, beyond what the clef says
        self.octave = state.octave + clef_octaves(key.clef)
        self.transpose = state.transpose
        self.bars: list[BarDraft] = []
        self.bar = BarDraft(Place(1, 1), key, meter)
        self.events: list[EventDraft] = self.bar.events
        self.notes: list[tuple[NoteDraft, int]] = []  # with the number of their bar, for lyrics
        self.lyrics_from = 0
        self.verse = 0
        self.line = 1
        self.alters = dict(_alters(key))
        self.octave_alters: dict[tuple[str, int], int] = {}
        self.carried: dict[tuple[str, int], int] = {}
        self.last: NoteDraft | None = None
        self.beam_from: NoteDraft | None = None
        self.broken: tuple[int, int] | None = None
        self.tuplet: tuple[int, int] | None = None
        self.tuplet_left = 0
        self.tuplet_first = False
        self.tuplet_note: NoteDraft | None = None
        self.decorations: list[str] = []
        self.annotations: list[Annotation] = []
        self.chord_symbol = ""
        self.slurs = 0
        self.graces: tuple[GraceDraft, ...] = ()
        self.slashed = False
        self.last_passes: tuple[int, ...] = ()

    # -- lines ------------------------------------------------------------------------------

    def read_line(self, text: str, line: int, column: int = 1) -> None:
        """Read a piece of music code; inline fields are not in it."""
        self.line = line
        for found in TOKEN.finditer(text):
            kind = found.lastgroup
            place = found.start() + column
            if kind == "note":
                try:
                    self._note(found[0], place)
                except BadLength:
                    raise self._error("a note of no length, or too long", place) from None
            elif kind == "space":
                self.beam_from = None
            elif kind == "bar":
                self._bar_line(found[0], place)
            else:
                try:
                    _ACTIONS[kind](self, found[0], place)  # type: ignore[index]
                except BadLength:
                    raise self._error("a length of nothing, or too long", place) from None

    def end_line(self) -> None:
        """The end of a source line that is a line of the page, too."""
        self.beam_from = None
        if self.events:
            return
        if self.bars:
            self.bars[-1].line_end = True

    def finish(self) -> list[BarDraft]:
        """Close the last bar and hand the bars over."""
        if self.tuplet is not None:
            self.state.warn("the last tuplet has too few notes", self.line, 1)
            self._end_tuplet()
        if self.bar.filled:
            self.state.repaired(
                "the last bar line is missing; read as if it were there", self.line, 1
            )
            self._close_bar(BarLine.FINAL)
        elif self.bars and self.bar.repeat_close:
            self.bars[-1].repeat_close = max(self.bars[-1].repeat_close, self.bar.repeat_close)
        if self.graces:
            self.state.warn("grace notes with no note after them; left out", self.line, 1)
        if self.bars:
            self.bars[-1].line_end = True
        return self.bars

    # -- notes ------------------------------------------------------------------------------

    def _sounding(self, step: str, octave: int, sign: int | None, column: int) -> Pitch:
        """The pitch that a written note means: signature, accidentals of the bar, ties."""
        octave += self.octave
        state = self.state
        if sign is not None:
            alter = sign
            if state.propagate == "pitch":
                self.alters[step] = sign
            elif state.propagate == "octave":
                self.octave_alters[step, octave] = sign
        elif self.carried and (step, octave) in self.carried:
            alter = self.carried[step, octave]
        elif self.octave_alters:
            alter = self.octave_alters.get((step, octave), self.alters[step])
        else:
            alter = self.alters[step]
        if not LOWEST_OCTAVE < octave <= HIGHEST_OCTAVE:
            raise self._error(
                "a note out of the range of any instrument",
                column,
                "Take some of its octave marks away",
            )
        return _pitch(step, alter, octave)

    def _note(self, word: str, column: int) -> None:
        step, octave, sign, top, bottom = read_note(word)
        pitch = self._sounding(step, octave, sign, column)
        draft = NoteDraft(
            (pitch,), top * self.unit_top, bottom * self.unit_bottom, self.line, column
        )
        if sign is not None:
            draft.explicit = True
        self._add(draft, True)

    def _add(self, draft: NoteDraft, sounds: bool) -> None:
        """Put a note, chord or rest into the bar, with all that waits for it."""
        if self.broken is not None:
            draft.top *= self.broken[0]
            draft.bottom *= self.broken[1]
            self.broken = None
        if self.tuplet is not None:
            self.tuplet_left -= 1
            done = self.tuplet_left == 0
            draft.tuplet = _tuplet(*self.tuplet, self.tuplet_first, done)
            self.tuplet_first = False
            self.tuplet_note = draft
            if done:
                self.tuplet = None
        if self.decorations:
            draft.decorations = tuple(self.decorations)
            self.decorations.clear()
        if self.annotations:
            draft.annotations = tuple(self.annotations)
            self.annotations.clear()
        if self.chord_symbol:
            draft.chord_symbol = self.chord_symbol
            self.chord_symbol = ""
        if sounds:
            if self.carried:
                self.carried = {}
            if self.slurs:
                draft.slurs_open = self.slurs
                self.slurs = 0
            if self.graces:
                draft.graces, draft.slashed = self.graces, self.slashed
                self.graces = ()
            if self.beam_from is not None:
                self.beam_from.beamed = draft
            self.beam_from = draft
            if self.events is self.bar.events:
                self.notes.append((draft, len(self.bars)))
        else:
            self.beam_from = None
        self.events.append(draft)
        self.last = draft

    def _chord(self, word: str, column: int) -> None:
        inside, _, length = word[1:].rpartition("]")
        pitches: list[Pitch] = []
        ties: list[bool] = []
        first: tuple[int, int] | None = None
        explicit = False
        for found in TOKEN.finditer(inside):
            kind = found.lastgroup
            place = column + 1 + found.start()
            if kind == "note":
                step, octave, sign, top, bottom = read_note(found[0])
                pitch = self._sounding(step, octave, sign, place)
                explicit = explicit or sign is not None
                first = first or (top, bottom)
                if pitch not in pitches:
                    pitches.append(pitch)
                    ties.append(False)
            elif kind == "tie" and ties:
                ties[-1] = True
            elif kind in ("quote", "short", "long", "slur_open", "slur_close"):
                if kind == "slur_close":
                    self.state.warn("a slur inside a chord; left out", self.line, place)
                elif kind != "slur_open":
                    _ACTIONS[kind](self, found[0], place)
            elif kind not in ("space", "nothing"):
                self.state.warn(f"'{found[0]}' in a chord was passed over", self.line, place)
        if first is None:
            self.state.warn(f"'{word}' was passed over: no notes in it", self.line, column)
            return
        top, bottom = read_length(length)
        draft = NoteDraft(
            tuple(pitches),
            first[0] * top * self.unit_top,
            first[1] * bottom * self.unit_bottom,
            self.line,
            column,
        )
        draft.explicit = explicit
        if any(ties):
            draft.ties = ties
        self._add(draft, True)

    def _rest(self, word: str, column: int) -> None:
        letter = word[0]
        if letter in "ZX":
            self._whole_rests(int(word[1:5] or 1), letter == "Z", column)
            return
        top, bottom = read_length(word[1:])
        draft = NoteDraft((), top * self.unit_top, bottom * self.unit_bottom, self.line, column)
        draft.visible = letter == "z"
        self._add(draft, False)

    def _whole_rests(self, bars: int, visible: bool, column: int) -> None:
        if not 0 < bars <= MOST_WHOLE_RESTS:
            raise self._error("a rest of so many bars", column, "Write a smaller number after it")
        length = self.meter.bar_length or Fraction(4)
        self._end_tuplet()
        self.broken = None
        for count in range(bars):
            if count:
                self._close_bar(BarLine.SINGLE)
            draft = NoteDraft((), length.numerator, length.denominator, self.line, column)
            draft.whole_bar = True
            draft.visible = visible
            self._add(draft, False)
        self.last = None  # neither dotted nor tied

    def _grace(self, word: str, column: int) -> None:
        # The accidental of a grace note holds for its group alone. The standard does not say;
        # in tunebooks `{^g}a2 G2` means a natural G.
        alters, octave_alters = dict(self.alters), dict(self.octave_alters)
        graces: list[GraceDraft] = list(self.graces)
        inside = word[1:-1]
        if inside.startswith("/"):
            self.slashed = True
        else:
            self.slashed = self.slashed and bool(self.graces)
        for found in TOKEN.finditer(inside.lstrip("/") if inside.startswith("/") else inside):
            if found.lastgroup == "note":
                place = column + 1 + found.start() + (len(inside) - len(inside.lstrip("/")))
                step, octave, sign, top, bottom = read_note(found[0])
                pitch = self._sounding(step, octave, sign, place)
                graces.append(
                    GraceDraft(
                        pitch, top * self.unit_top, bottom * self.unit_bottom, self.line, place
                    )
                )
            elif found.lastgroup == "chord":
                for inner in TOKEN.finditer(found[0][1:]):
                    if inner.lastgroup == "note":
                        step, octave, sign, top, bottom = read_note(inner[0])
                        pitch = self._sounding(step, octave, sign, column)
                        graces.append(
                            GraceDraft(
                                pitch,
                                top * self.unit_top,
                                bottom * self.unit_bottom,
                                self.line,
                                column,
                            )
                        )
        self.graces = tuple(graces)
        self.alters, self.octave_alters = alters, octave_alters

    def _tie(self, word: str, column: int) -> None:
        last = self.last
        if last is None or not last.pitches:
            self.state.warn("a tie with no note before it was passed over", self.line, column)
            return
        last.ties = [True] * len(last.pitches)
        if not self.events:  # the tie stands after the bar line
            self._carry(last)

    def _broken(self, word: str, column: int) -> None:
        last = self.last
        if last is None or len(word) > 4:
            self.state.warn(f"'{word}' with no note before it was passed over", self.line, column)
            return
        bottom: int = 2 ** len(word)
        long, short = (2 * bottom - 1, bottom), (1, bottom)
        mine, following = (long, short) if word[0] == ">" else (short, long)
        last.top *= mine[0]
        last.bottom *= mine[1]
        self.broken = following

    def _end_tuplet(self) -> None:
        """End a tuplet that has fewer notes than it says."""
        note = self.tuplet_note
        if self.tuplet is not None and not self.tuplet_first and note is not None:
            assert note.tuplet is not None
            note.tuplet = Tuplet(note.tuplet.actual, note.tuplet.normal, note.tuplet.first, True)
        self.tuplet = None

    def _tuplet_start(self, word: str, column: int) -> None:
        numbers = [int(n[:4]) if n else 0 for n in word[1:].split(":")]
        p, q, r = (numbers + [0, 0])[:3]
        if p < 2 or max(p, q, r) > LARGEST_TUPLET:
            if p < 2 and len(numbers) == 1:
                self.state.warn(f"'{word}' is no tuplet; passed over", self.line, column)
                return
            raise self._error(
                f"'{word}' is no tuplet that can be played",
                column,
                "Write (3 for three notes in the time of two, or (p:q:r",
            )
        if not q:
            q = TUPLET_TIMES.get(p) or (3 if self.meter.compound else 2)
        if self.tuplet is not None:
            self.state.warn("a tuplet inside a tuplet: the outer one ends here", self.line, column)
            self._end_tuplet()
        self.tuplet = (p, q)
        self.tuplet_left = r or p
        self.tuplet_first = True

    # -- signs ------------------------------------------------------------------------------

    def _slur_open(self, word: str, column: int) -> None:
        self.slurs += 1

    def _slur_close(self, word: str, column: int) -> None:
        if self.last is not None and self.last.pitches:
            self.last.slurs_close += 1

    def _quote(self, word: str, column: int) -> None:
        chord, annotation = read_quoted(word[1:-1])
        if chord and not self.chord_symbol:
            self.chord_symbol = chord
        elif chord:
            self.annotations.append(Annotation("above", chord))
        elif annotation is not None:
            self.annotations.append(annotation)

    def _long(self, word: str, column: int) -> None:
        name = word[1:-1].strip()
        name = SYNONYMS.get(name, name)
        if word[0] == "+" and name not in LONG_DECORATIONS:
            self._plus(word, column)
        elif word[0] == "!" and name not in LONG_DECORATIONS and any(c in name for c in "|:[]"):
            self.read_line(word[1:-1], self.line, column + 1)  # two old line breaks
        elif name:
            if name not in LONG_DECORATIONS:
                self.state.warn(
                    f"'{word}' is no decoration that is known; kept as it is", self.line, column
                )
            self.decorations.append(name)

    def _plus(self, word: str, column: int) -> None:
        """`+CEG+`: a chord as ABC 1.x wrote it."""
        if TOKEN.match(word, 1) and read_old_chord(word):
            self._chord(f"[{word[1:-1]}]", column)
        else:
            self.state.warn(
                f"'{word}' is no decoration that is known; passed over", self.line, column
            )

    def _short(self, word: str, column: int) -> None:
        name = self.state.symbols.get(word)
        if name is None:
            self.state.warn(f"'{word}' has no meaning here; passed over", self.line, column)
        elif name.startswith('"'):
            self._quote(name, column)
        elif name:
            self.decorations.append(name)

    def _overlay(self, word: str, column: int) -> None:
        if word.startswith("(") or word.endswith(")"):
            self.state.warn("an overlay of several bars is read bar by bar", self.line, column)
            if word != "&":
                word = word.strip("()")
        for _ in range(word.count("&") or 1):
            self.bar.overlays.append([])
        self.events = self.bar.overlays[-1]
        self.alters = dict(_alters(self.key))
        self.octave_alters = {}
        self.beam_from = self.last = None
        self._end_tuplet()
        self.broken = None

    def _nothing(self, word: str, column: int) -> None:
        if word != "`":
            self.beam_from = None

    def _unknown(self, word: str, column: int) -> None:
        if word == ":" and not self.bar.filled:
            self.state.repaired("':' after a bar line read as |:", self.line, column)
            self._bar_line("|:", column)
            return
        if word == "[":
            raise self._error("a chord that is not closed", column, "Write ] after its last note")
        if word == "{":
            raise self._error(
                "grace notes that are not closed", column, "Write } after the last of them"
            )
        if word == '"':
            raise self._error(
                "a chord symbol or annotation that is not closed", column, 'Write " at its end'
            )
        self.state.warn(f"'{word}' has no meaning here; passed over", self.line, column)

    def _field(self, word: str, column: int) -> None:
        self.state.warn(f"'{word}' was passed over", self.line, column)

    # -- bar lines --------------------------------------------------------------------------

    def _bar_line(self, word: str, column: int) -> None:
        shape, close, open_, ending = read_bar(word)
        self._marks_at_bar_line(column)
        if self.bar.filled:
            self._close_bar(shape)
        elif self.bars:
            before = self.bars[-1]
            if SHAPE_RANK[shape] > SHAPE_RANK[before.closing]:
                before.closing = shape
        elif not open_ or shape is not BarLine.SINGLE:
            self.bar.opening = shape
        if close:
            if self.bars and not self.bar.filled:
                self.bars[-1].repeat_close = max(self.bars[-1].repeat_close, close)
        if open_:
            if self.bar.opening is BarLine.SINGLE:
                self.bar.opening = BarLine.NONE
            self.bar.repeat_open = True
            self.bar.open_times = open_
        if ending is not None:
            self._ending_starts(ending, word, column)

    def _ending(self, word: str, column: int) -> None:
        if self.bar.filled:
            self._close_bar(BarLine.NONE)
        text = word[1:].strip()
        self._ending_starts(read_ending(text.strip('"')), word, column)
        if text.startswith('"'):
            self.annotations.append(Annotation("above", text.strip('"')))

    def _ending_starts(self, passes: tuple[int, ...], word: str, column: int) -> None:
        if not passes:
            passes = ((self.last_passes[-1] if self.last_passes else 0) + 1,)
            self.state.repaired(f"'{word}' names no pass; read as {passes[0]}", self.line, column)
        self.bar.ending = passes
        self.last_passes = passes

    def _marks_at_bar_line(self, column: int) -> None:
        if not self.decorations:
            return
        for name in self.decorations:
            mark = NAVIGATION.get(name)
            if mark is None:
                self.state.warn(f"'{name}' at a bar line was left out", self.line, column)
            elif mark not in TARGETS and (self.bar.filled or not self.bars):
                self.bar.marks.append(mark)
            elif mark not in TARGETS:
                self.bars[-1].marks.append(mark)
        targets = [n for n in self.decorations if NAVIGATION.get(n) in TARGETS]
        self.decorations = targets

    def _carry(self, note: NoteDraft) -> None:
        if note.ties and any(note.ties):
            self.carried = {
                (p.step, p.octave): p.alter
                for p, tied in zip(note.pitches, note.ties, strict=True)
                if tied
            }

    def _close_bar(self, shape: BarLine) -> None:
        bar = self.bar
        bar.closing = shape
        if bar.overlays:
            self._end_tuplet()
            bar.settle_layers()
        self.bars.append(bar)
        if shape is not BarLine.NONE:
            self.alters = dict(_alters(self.key))
            if self.octave_alters:
                self.octave_alters = {}
        if self.last is not None and self.last.ties is not None:
            self._carry(self.last)
        self.bar = BarDraft(Place(self.line, 1), self.key, self.meter)
        self.events = self.bar.events
        self.beam_from = None

    # -- changes ----------------------------------------------------------------------------

    @property
    def begun(self) -> bool:
        """Whether any music stands in this voice."""
        return bool(self.bars) or self.bar.filled

    def change(
        self,
        line: int,
        column: int,
        key: Key | None = None,
        meter: Meter | None = None,
        tempo: Tempo | None = None,
    ) -> None:
        """A key, metre or tempo from here on."""
        if key is not None and key != self.key:
            self.key = key
            self.octave = self.extra_octaves + clef_octaves(key.clef)
            self.alters = dict(_alters(key))
            self.octave_alters = {}
        else:
            key = None
        if meter is not None and meter != self.meter:
            self.meter = meter
        else:
            meter = None
        filled = self.bar.filled
        if not filled:
            self.bar.key, self.bar.meter = self.key, self.meter
        if not self.begun or (key is None and meter is None and tempo is None):
            return
        self.events.append(Change(Place(line, column), key, meter, tempo))

    def set_unit(self, unit: Fraction) -> None:
        """A unit note length (quarter notes) from here on."""
        self.unit_top, self.unit_bottom = unit.numerator, unit.denominator

    def part(self, label: str, line: int) -> None:
        """A `P:` label: a part begins here."""
        if self.bar.filled:
            self._close_bar(BarLine.SINGLE)
        self.bar.part = label
        self.last_passes = ()

    def _error(
        self, reason: str, column: int, advice: str = "Correct it or take it out"
    ) -> AbcError:
        return AbcError(reason, Place(self.line, column), advice)


def read_old_chord(word: str) -> bool:
    """Whether `+...+` holds notes."""
    return all(found.lastgroup in ("note", "space", "tie") for found in TOKEN.finditer(word[1:-1]))


_ACTIONS = {
    "broken": VoiceReader._broken,
    "grace": VoiceReader._grace,
    "tuplet": VoiceReader._tuplet_start,
    "slur_open": VoiceReader._slur_open,
    "slur_close": VoiceReader._slur_close,
    "tie": VoiceReader._tie,
    "quote": VoiceReader._quote,
    "rest": VoiceReader._rest,
    "long": VoiceReader._long,
    "field": VoiceReader._field,
    "ending": VoiceReader._ending,
    "invisible": VoiceReader._bar_line,
    "chord": VoiceReader._chord,
    "short": VoiceReader._short,
    "overlay": VoiceReader._overlay,
    "spacer": VoiceReader._nothing,
    "nothing": VoiceReader._nothing,
    "unknown": VoiceReader._unknown,
}
