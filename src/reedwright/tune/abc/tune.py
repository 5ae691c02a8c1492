"""One tune of a tunebook read into the model: header, body, voices, repairs."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

from reedwright.tune.abc.assembly import Assembler
from reedwright.tune.abc.counting import number_bars
from reedwright.tune.abc.errors import AbcError
from reedwright.tune.abc.fieldreader import COMMENT, FieldReader, plain_text
from reedwright.tune.abc.keys import clef_octaves, read_clef, read_key
from reedwright.tune.abc.lyrics import HOLD, align, last_sung, read_syllables
from reedwright.tune.abc.metres import FREE, default_unit, read_meter, read_tempo, read_unit
from reedwright.tune.abc.mnemonics import decode_text
from reedwright.tune.abc.music import new_voice
from reedwright.tune.abc.repairs import mark_ending_ends, repair_repeats
from reedwright.tune.abc.splitting import FIELD_LINE, Line, RawTune
from reedwright.tune.abc.voice import VoiceReader
from reedwright.tune.model import Field, Key, Place, Tune, Voice

_INLINE = re.compile(r"\[([A-Za-z]):([^\]]*)\]")
_CUT_BAR_LINE = re.compile(r"(?<![\[|:])[|:]*\|$")
# A word of three letters or more, one of which is neither note, rest nor one-letter sign.
_NO_MUSIC = re.compile(
    r"(?<![\w!+\"^_<>@&])(?=[A-Za-z]*[i-npqrstwI-KNQRUVWY])[A-Za-z]{3,}(?![\w!+\"])"
)


def read_tune(raw: RawTune, source: str = "") -> Tune:
    """Read one tune; raises AbcError where it has no sensible reading."""
    reader = TuneReader(raw, source)
    try:
        return reader.read()
    except AbcError as error:
        raise error.located(reader.line_text(error.place.line), source) from None


class TuneReader(FieldReader):
    """Reads the lines of one tune in order."""

    def __init__(self, raw: RawTune, source: str) -> None:
        super().__init__()
        self.raw = raw
        self.source = source
        self.voices: dict[str, VoiceReader] = {}
        self.current: VoiceReader | None = None
        self.in_body = False
        self.continues = False
        self.lyrics: tuple[str, int] | None = None
        self.music_since_lyrics = False
        self.cut_bar_line = ""

    def line_text(self, number: int) -> str:
        for line in self.raw.lines:
            if line.number == number:
                return line.text
        for line in self.raw.file_header:
            if line.number == number:
                return line.text
        return ""

    # -- the whole --------------------------------------------------------------------------

    def read(self) -> Tune:
        lines = self.raw.lines
        for line in self.raw.file_header:
            if FIELD_LINE.match(line.text) and line.text[0] not in "XTK":
                self._header_field(line)
        body = self._body_start(lines)
        for line in lines[:body]:
            self._header_line(line)
        if not self.number:
            self.state.repaired("there is no number (X:); read as 1", lines[0].number, 1)
            self.number = "1"
        if self.state.key is None:
            place = lines[0].number
            self.state.repaired("there is no key (K:); read as C major", place, 1)
            self.state.key = Key()
        self._begin_body()
        for line in lines[body:]:
            self._body_line(line)
        self._flush_lyrics()
        if self.cut_bar_line:
            self._music_voice().read_line(self.cut_bar_line, lines[-1].number)
        return self._tune()

    def _body_start(self, lines: list[Line]) -> int:
        """The index after the header's `K:` line."""
        for index, line in enumerate(lines):
            if line.text.startswith("K:"):
                return index + 1
        for index, line in enumerate(lines):
            text = line.text
            if text.strip() and not FIELD_LINE.match(text) and text[:1] not in "%+":
                return index
        return len(lines)

    def _tune(self) -> Tune:
        state = self.state
        voices: list[Voice] = []
        place = self.raw.lines[0].number
        moves: list[int] = []
        for reader in self.voices.values():
            bars = reader.finish()
            if not any(bar.filled for bar in bars):
                continue
            repair_repeats(bars, state)
            mark_ending_ends(bars)
            number_bars(bars, state)
            prefix = "" if not voices else f"v{len(voices) + 1}"
            moves.append(reader.transpose)
            voices.append(Voice(reader.name, Assembler(prefix).bars(bars), reader.title))
        if not any(bar.notes for voice in voices for bar in voice.bars):
            raise AbcError(
                "there are no notes in this tune",
                Place(self.raw.lines[-1].number, 1),
                "Write its music after the K: line",
            )
        if len(voices) > 1:
            state.warn(
                f"the tune has {len(voices)} voices; the first is taken as the tune", place, 1
            )
        first = voices[0].bars[0]
        if self.part_order and not any(bar.part for bar in voices[0].bars):
            state.warn("the order of parts (P:) names parts that the music does not mark", place, 1)
            self.part_order = ()
        if self.raw.left_over is not None:
            state.warn(
                "lines after an empty line are no part of the tune; left out",
                self.raw.left_over.number,
                1,
            )
        rhythm = next((f.text for f in self.fields if f.code == "R" and f.text), "")
        state.problems.sort(key=lambda p: p.place)
        tune = Tune(
            self.number,
            tuple(self.titles),
            first.key,
            first.meter,
            tuple(voices),
            state.unit or Fraction(1, 2),
            state.tempo,
            rhythm.strip().lower(),
            tuple(self.fields),
            self.part_order,
            tuple(state.problems),
            self.source,
            self.raw.text,
        )
        return _as_it_sounds(tune, moves) if any(moves) else tune

    # -- body -------------------------------------------------------------------------------

    def _begin_body(self) -> None:
        state = self.state
        self.in_body = True
        if state.unit is None:
            state.unit = default_unit(state.meter)
        if self.tempo_text is not None:
            value, place = self.tempo_text
            state.tempo = read_tempo(value, state.unit)
            if state.tempo is None and value:
                state.warn(f"'{value}' is no tempo; passed over", *place)
        for name in self.voice_fields:
            self._voice(name)
        self.current = next(iter(self.voices.values()), None)

    def _voice(self, name: str) -> VoiceReader:
        voice = self.voices.get(name)
        if voice is None:
            state = self.state
            assert state.key is not None and state.unit is not None
            voice = new_voice(name, state, state.key, state.meter or FREE, state.unit)
            self.voices[name] = voice
        self._apply_voice_fields(voice)
        return voice

    def _apply_voice_fields(self, voice: VoiceReader) -> None:
        text = self.voice_fields.get(voice.name, "")
        if not text:
            return
        self.voice_fields[voice.name] = ""
        clef = read_clef(text)
        if clef.clef is not None:
            voice.change(voice.line, 1, key=_with_clef(voice.key, clef.clef))
        if clef.transpose:
            voice.transpose = clef.transpose
        if clef.octave:
            voice.extra_octaves = clef.octave
            voice.octave = clef.octave + clef_octaves(voice.key.clef)
        for name, value in clef.parameters:
            if name in ("name", "nm"):
                voice.title = decode_text(value)

    def _music_voice(self) -> VoiceReader:
        if self.current is None:
            self.current = self._voice("1")
        return self.current

    def _body_line(self, line: Line) -> None:
        text = line.text
        if not text or text.isspace():
            return
        first = text[0]
        if first == "%" or self.in_text:
            self._directive(text)
            return
        if first == "+" and text.startswith("+:"):
            if self.lyrics is not None:
                self.lyrics = (self.lyrics[0] + " " + plain_text(text[2:]), self.lyrics[1])
            elif not self.music_since_lyrics:
                self._continue_field(line)
            return
        if FIELD_LINE.match(text):
            self._body_field(line)
            return
        self._flush_lyrics()
        if "%" in text:
            text = COMMENT.sub("", text)
        if _looks_like_prose(text):
            self.state.warn(
                "a line that looks like text, not music, was passed over", line.number, 1
            )
            return
        self._music_line(text, line.number)

    def _music_line(self, text: str, line: int) -> None:
        stripped = text.rstrip()
        goes_on = stripped.endswith("\\")
        shift = 0
        if self.cut_bar_line:  # the line before ended with `||\` and this one begins with `:`
            if text[:1] in ":12":
                text = self.cut_bar_line + text
                shift = len(self.cut_bar_line)
            else:
                self._music_voice().read_line(self.cut_bar_line, line)
            self.cut_bar_line = ""
        if goes_on:
            text = stripped[:-1] if not shift else text.rstrip()[:-1]
            tail = _CUT_BAR_LINE.search(text)
            if tail:
                self.cut_bar_line = tail[0]
                text = text[: tail.start()]
        self._music_voice().begin_line(text, line)
        if "[" in text and _INLINE.search(text):
            position = 0
            for found in _INLINE.finditer(text):
                self._music_voice().read_line(
                    text[position : found.start()], line, position + 1 - shift
                )
                self._inline(
                    found[1], found[2].strip(), Place(line, max(1, found.start() + 1 - shift))
                )
                position = found.end()
            self._music_voice().read_line(text[position:], line, position + 1 - shift)
        else:
            self._music_voice().read_line(text, line, 1 - shift)
        self.music_since_lyrics = True
        if not goes_on:
            self._music_voice().end_line("<EOL>" in self.state.line_breaks)

    def _body_field(self, line: Line) -> None:
        code, value = line.text[0], plain_text(line.text[2:])
        place = Place(line.number, 1)
        if code == "w":
            self._flush_lyrics()
            self.lyrics = (value, line.number)
        elif code in "KMLQPV":
            self._flush_lyrics()
            self._inline(code, value, place)
        elif code in "UIm":
            self._musical(code, value, place)
            self.fields.append(Field(code, value, place))
        elif code in "sr":
            if code == "s":
                self.state.warn("a line of symbols (s:) was passed over", *place)
        else:
            text = decode_text(value)
            self.fields.append(Field(code, text, Place(line.number, 3)))
            if code == "T" and text:
                self.titles.append(text)

    def _inline(self, code: str, value: str, place: Place) -> None:
        """A field in the body: on its own line or inline."""
        if code == "V":
            name = self._declare_voice(value, place)
            self.current = self._voice(name)
            return
        voice = self._music_voice()
        if code == "K":
            found = read_key(value)
            if found is None:
                raise AbcError(
                    f"'{value}' is no key", place, "Write it like K:G, K:Edor, K:Bb minor or K:none"
                )
            key = found.key
            if key is None and found.clef is not None:
                key = _with_clef(voice.key, found.clef)
            elif key is not None and found.clef is None:
                key = _with_clef(key, voice.key.clef)
            if found.octave:
                voice.extra_octaves = found.octave
            if found.transpose:
                self.state.warn("a transposition inside the tune was passed over", *place)
            voice.change(*place, key=key)
        elif code == "M":
            meter = read_meter(value)
            if meter is None:
                raise AbcError(
                    f"'{value}' is no metre", place, "Write it like M:6/8, M:C or M:none"
                )
            voice.change(*place, meter=meter)
        elif code == "L":
            unit = read_unit(value)
            if unit is None:
                raise AbcError(f"'{value}' is no unit note length", place, "Write it like L:1/8")
            voice.set_unit(unit)
            if not self.voice_fields and not voice.begun:
                self.state.unit = unit
        elif code == "Q":
            unit = Fraction(voice.unit_top, voice.unit_bottom)
            tempo = read_tempo(value, unit)
            if tempo is None:
                self.state.warn(f"'{value}' is no tempo; passed over", *place)
            elif not voice.begun:
                self.state.tempo = tempo
            else:
                voice.change(*place, tempo=tempo)
        elif code == "P":
            voice.part(value, place.line)
        elif code in "UI":
            self._musical(code, value, place)
        elif code not in "Nr":
            self.fields.append(Field(code, decode_text(value), place))

    def _flush_lyrics(self) -> None:
        if self.lyrics is None:
            return
        text, number = self.lyrics
        self.lyrics = None
        self.music_since_lyrics = False
        voice = self._music_voice()
        if len(voice.notes) > voice.lyrics_to:  # a new block: it goes on after the last one
            voice.lyrics_from, voice.lyrics_to = voice.lyrics_to, len(voice.notes)
            voice.verse = 0
        notes = voice.notes[voice.lyrics_from :]
        words = read_syllables(text)
        held = words[:1] == [HOLD]
        before = last_sung(voice.notes[: voice.lyrics_from], voice.verse) if held else None
        left = align(words, notes, voice.verse, before)
        if left:
            self.state.warn(f"{left} syllables have no note", number, 1)
        voice.verse += 1


def _as_it_sounds(tune: Tune, moves: list[int]) -> Tune:
    """The tune with each voice moved by the semitones of its `transpose=`."""
    from reedwright.tune.transpose import transposed

    voices = tuple(
        transposed(tune, semitones=move).voices[at] if move else tune.voices[at]
        for at, move in enumerate(moves)
    )
    first = voices[0].bars[0]
    return replace(tune, voices=voices, key=first.key)


def _looks_like_prose(text: str) -> bool:
    """Whether a line without bar lines has words in it, of letters that are no notes."""
    return "|" not in text and len(_NO_MUSIC.findall(text)) >= 2


def _with_clef(key: Key, clef: str) -> Key:
    if key.clef == clef:
        return key
    return Key(key.step, key.alter, key.mode, key.accidentals, key.estimated, clef)
