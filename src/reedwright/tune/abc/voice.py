"""One voice: its lines read word by word into bars of drafts.

What each kind of word does is in the modules named for it (`rhythm`, `chords`, `signs`,
`barlines`); `music` puts them together.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from fractions import Fraction
from functools import lru_cache

from reedwright.tune.abc.drafts import BarDraft, EventDraft, GraceDraft, NoteDraft, length_of
from reedwright.tune.abc.errors import AbcError
from reedwright.tune.abc.keys import alterations, clef_octaves
from reedwright.tune.abc.scanner import TOKEN, BadLength, read_note
from reedwright.tune.abc.state import TuneState
from reedwright.tune.model import (
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
_BAR_LINE_FIRST = re.compile(r"\s*(?:\.?[|:]|\[[|1-9\"]|\[P:|[&>])")


@lru_cache(maxsize=4096)
def _pitch(step: str, alter: int, octave: int) -> Pitch:
    return Pitch(step, alter, octave)


@lru_cache(maxsize=256)
def _tuplet_mark(actual: int, normal: int, first: bool, last: bool) -> Tuplet:
    """The same few marks come again and again."""
    return Tuplet(actual, normal, first, last)


class VoiceReader:
    """Reads the lines of one voice. The bars gather in `bars`, the open one is `bar`.

    `actions` says what to do with each kind of word (the groups of `scanner.TOKEN`).
    """

    def __init__(
        self,
        name: str,
        state: TuneState,
        key: Key,
        meter: Meter,
        unit: Fraction,
        actions: Mapping[str, Action],
    ) -> None:
        self.name = name
        self.actions = actions
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
        self.lyrics_from = 0  # the first of `notes` that the lyrics at hand belong to
        self.lyrics_to = 0
        self.verse = 0
        self.line = 1
        self.alters = alterations(key)
        self.octave_alters: dict[tuple[str, int], int] = {}
        self.carried: dict[tuple[str, int], int] = {}
        self.last: NoteDraft | None = None
        self.tied: NoteDraft | None = None  # a tie begins there, its end has not come
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
        for target, expansion in self.state.macros:
            at = text.find(target)
            if at >= 0:
                self.read_line(text[:at], line, column)
                self._expand(expansion, line, column + at)
                self.read_line(text[at + len(target) :], line, column + at + len(target))
                return
        for found in TOKEN.finditer(text):
            kind = found.lastgroup
            place = found.start() + column
            if kind == "note":
                try:
                    self._note(found[0], place)
                except BadLength:
                    raise self.error("a note of no length, or too long", place) from None
            elif kind == "space":
                self.beam_from = None
            else:
                try:
                    self.actions[kind or "unknown"](self, found[0], place)
                except BadLength:
                    raise self.error("a length of nothing, or too long", place) from None

    def _expand(self, text: str, line: int, column: int) -> None:
        """Read what a macro stands for; macros in it stand for themselves."""
        macros, self.state.macros = self.state.macros, []
        self.read_line(text, line, column)
        self.state.macros = macros

    def begin_line(self, text: str, line: int) -> None:
        """A source line begins: a full bar before it is closed if nobody wrote its bar line."""
        if not self.bar.filled or self.tuplet is not None or self.broken is not None:
            return
        full = self.bar.meter.bar_length
        if full is None or _BAR_LINE_FIRST.match(text):
            return
        if Fraction(*length_of(self.bar.events)) == full:
            self.state.repaired("a bar line is missing at the end of the line before", line, 1)
            # Accidentals hold on: the source has no bar line that would end them, and in
            # collections made so (Essen) the next line's notes count on it.
            self.close_bar(BarLine.SINGLE, keep_accidentals=True)

    def end_line(self, breaks: bool) -> None:
        """The end of a source line; `breaks`: it is one on the page, too."""
        self.beam_from = None
        if breaks and not self.events and self.bars:
            self.bars[-1].line_end = True

    def finish(self) -> list[BarDraft]:
        """Close the last bar and hand the bars over."""
        if self.tuplet is not None:
            self.state.warn("the last tuplet has too few notes", self.line, 1)
            self.end_tuplet()
        if self.bar.filled:
            self.state.repaired(
                "the last bar line is missing; read as if it were there", self.line, 1
            )
            self.close_bar(BarLine.FINAL)
        elif self.bars and self.bar.repeat_close:
            self.bars[-1].repeat_close = max(self.bars[-1].repeat_close, self.bar.repeat_close)
        if self.graces:
            self.state.warn("grace notes with no note after them; left out", self.line, 1)
        if self.bars:
            self.bars[-1].line_end = True
        return self.bars

    # -- notes ------------------------------------------------------------------------------

    def sounding(self, step: str, octave: int, sign: int | None, column: int) -> Pitch:
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
            raise self.error(
                "a note out of the range of any instrument",
                column,
                "Take some of its octave marks away",
            )
        return _pitch(step, alter, octave)

    def _note(self, word: str, column: int) -> None:
        step, octave, sign, top, bottom = read_note(word)
        pitch = self.sounding(step, octave, sign, column)
        draft = NoteDraft(
            (pitch,), top * self.unit_top, bottom * self.unit_bottom, self.line, column
        )
        if sign is not None:
            draft.explicit = True
        self.add(draft, True)

    def add(self, draft: NoteDraft, sounds: bool) -> None:
        """Put a note, chord or rest into the bar, with all that waits for it."""
        if self.broken is not None:
            draft.top *= self.broken[0]
            draft.bottom *= self.broken[1]
            self.broken = None
        if self.tuplet is not None:
            self.tuplet_left -= 1
            done = self.tuplet_left == 0
            draft.tuplet = _tuplet_mark(*self.tuplet, self.tuplet_first, done)
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
            if self.tied is not None:
                self._check_tie(draft)
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

    def end_tuplet(self) -> None:
        """End a tuplet that has fewer notes than it says."""
        note = self.tuplet_note
        if self.tuplet is not None and not self.tuplet_first and note is not None:
            assert note.tuplet is not None
            note.tuplet = Tuplet(note.tuplet.actual, note.tuplet.normal, note.tuplet.first, True)
        self.tuplet = None

    def _check_tie(self, draft: NoteDraft) -> None:
        """A tie to another pitch is a slur: many old tunebooks write `G3-A` for `(G3A)`."""
        before, self.tied = self.tied, None
        assert before is not None
        here = {pitch.midi for pitch in draft.pitches}
        if any(pitch.midi in here for pitch in before.pitches):
            return
        if not self.events and (self.bar.ending or self.bar.repeat_open):
            return  # it may be tied to what is played next
        if self.bars and not self.events and self.bars[-1].repeat_close:
            return
        before.ties = None
        before.slurs_open += 1
        draft.slurs_close += 1
        self.state.repaired("a tie between two pitches; read as a slur", before.line, before.column)

    def hard_break(self) -> None:
        self.end_line(True)

    def carry(self, note: NoteDraft) -> None:
        if note.ties and any(note.ties):
            self.carried = {
                (p.step, p.octave): p.alter
                for p, tied in zip(note.pitches, note.ties, strict=True)
                if tied
            }

    def close_bar(self, shape: BarLine, keep_accidentals: bool = False) -> None:
        """End the open bar with this bar line and begin the next one."""
        bar = self.bar
        bar.closing = shape
        if bar.overlays:
            self.end_tuplet()
            bar.settle_layers()
        self.bars.append(bar)
        if shape is not BarLine.NONE and not keep_accidentals:
            self.alters = alterations(self.key)
            if self.octave_alters:
                self.octave_alters = {}
        if self.last is not None and self.last.ties is not None:
            self.carry(self.last)
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
            self.alters = alterations(key)
            self.octave_alters = {}
        else:
            key = None
        if meter is not None and meter != self.meter:
            self.meter = meter
        else:
            meter = None
        self.beam_from = None
        if not self.bar.filled:
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
            self.close_bar(BarLine.SINGLE)
        self.bar.part = label
        self.last_passes = ()

    def error(
        self, reason: str, column: int, advice: str = "Correct it or take it out"
    ) -> AbcError:
        return AbcError(reason, Place(self.line, column), advice)


Action = Callable[[VoiceReader, str, int], None]
"""What to do with a word: the voice, the word, its column (from 1)."""
