"""The fields of a tune's header: kept as they stand, and what they say for the music."""

from __future__ import annotations

import re

from reedwright.tune.abc.errors import AbcError
from reedwright.tune.abc.keys import read_key
from reedwright.tune.abc.metres import read_meter, read_unit
from reedwright.tune.abc.mnemonics import decode_text
from reedwright.tune.abc.parts import read_part_order
from reedwright.tune.abc.splitting import HEADER_FIELD, Line
from reedwright.tune.abc.state import TuneState
from reedwright.tune.abc.symbols import read_user_symbol
from reedwright.tune.model import Field, Key, Place

TEXT_CODES = frozenset("ABCDFGHNORSTZWX")
COMMENT = re.compile(r"(?<!\\)%.*")
_VOICE = re.compile(r"\s*(\S+)")


class FieldReader:
    """Reads the fields of one tune's header; what they say is kept here."""

    def __init__(self) -> None:
        self.state = TuneState()
        self.fields: list[Field] = []
        self.titles: list[str] = []
        self.number = ""
        self.part_order: tuple[str, ...] = ()
        self.voice_fields: dict[str, str] = {}
        self.tempo_text: tuple[str, Place] | None = None
        self.in_text = False  # inside a block of typeset text

    def _header_line(self, line: Line) -> None:
        text = line.text
        if not text.strip():
            return
        if text[0] == "%" or self.in_text:
            self._directive(text)
            return
        if text.startswith("+:"):
            self._continue_field(line)
        elif HEADER_FIELD.match(text):
            self._header_field(line)
        elif self.fields and self.fields[-1].code == "H":
            self._continue_field(Line(line.number, "+:" + text))
        elif text[0] != "\\":
            self.state.warn("a line of the header that is no field was passed over", line.number, 1)

    def _directive(self, text: str) -> None:
        """A `%%` line: text blocks are passed over, one directive bears on reading."""
        if text.startswith("%%begin"):
            self.in_text = True
        elif text.startswith("%%end"):
            self.in_text = False
        elif text.startswith(("%%propagate-accidentals", "%%linebreak")):
            self._instruction(text[2:])

    def _continue_field(self, line: Line) -> None:
        if self.fields:
            last = self.fields[-1]
            joined = f"{last.text} {decode_text(plain_text(line.text[2:]))}".strip()
            self.fields[-1] = last._replace(text=joined)
            if last.code == "T" and self.titles:
                self.titles[-1] = joined
            elif last.code in "PQMLK":
                self._musical(last.code, joined, last.place)

    def _header_field(self, line: Line) -> None:
        code, value = line.text[0], plain_text(line.text[2:])
        place = Place(line.number, 3 + len(line.text[2:]) - len(line.text[2:].lstrip()))
        text = decode_text(value) if code in TEXT_CODES else value
        if code not in "wsr":
            self.fields.append(Field(code, text, place))
        if code == "X":
            self.number = text
        elif code == "T":
            if text:
                self.titles.append(text)
        else:
            self._musical(code, value, place)

    def _musical(self, code: str, value: str, place: Place) -> None:
        """A header field that changes how the music is read."""
        state = self.state
        if code == "K":
            self._read_key_field(value, place)
        elif code == "M":
            meter = read_meter(value)
            if meter is None:
                raise AbcError(
                    f"'{value}' is no metre", place, "Write it like M:6/8, M:C or M:none"
                )
            state.meter = meter
        elif code == "L":
            unit = read_unit(value)
            if unit is None:
                raise AbcError(f"'{value}' is no unit note length", place, "Write it like L:1/8")
            state.unit = unit
        elif code == "Q":
            self.tempo_text = (value, place)
        elif code == "P":
            order = read_part_order(value)
            if order is None:
                state.warn(f"'{value}' is no order of parts; the tune is played as written", *place)
            else:
                self.part_order = order
        elif code == "V":
            self._declare_voice(value, place)
        elif code == "U":
            self._user_symbol(value, place)
        elif code == "I":
            self._instruction(value)
        elif code == "m":
            self._macro(value, place)

    def _read_key_field(self, value: str, place: Place) -> None:
        found = read_key(value)
        if found is None:
            raise AbcError(
                f"'{value}' is no key", place, "Write it like K:G, K:Edor, K:Bb minor or K:none"
            )
        self.state.key = (
            found.key or self.state.key or Key(mode="none", clef=found.clef or "treble")
        )
        self.state.octave = found.octave
        self.state.transpose = found.transpose

    def _user_symbol(self, value: str, place: Place) -> None:
        symbol = read_user_symbol(value)
        if symbol is None:
            self.state.warn(f"'{value}' is no user symbol; passed over", *place)
        else:
            self.state.symbols[symbol[0]] = symbol[1]

    def _macro(self, value: str, place: Place) -> None:
        """A static macro, `~G3 = G{A}G{F}G` (ABC 2.1, section 9); transposing ones are not read."""
        target, equals, text = (part.strip() for part in value.partition("="))
        if not equals or not target or not text:
            self.state.warn(f"'{value}' is no macro; passed over", *place)
        elif "n" in target:
            self.state.warn("a transposing macro was passed over", *place)
        else:
            self.state.macros.append((target, text))

    def _instruction(self, value: str) -> None:
        name, _, rest = value.partition(" ")
        if name == "linebreak":
            self.state.line_breaks = frozenset(rest.split())
        elif name == "propagate-accidentals" and rest.strip() in ("not", "octave", "pitch"):
            self.state.propagate = rest.strip()

    def _declare_voice(self, value: str, place: Place) -> str:
        found = _VOICE.match(value)
        name = found[1] if found else "1"
        rest = value[found.end() :] if found else ""
        if rest.strip():
            self.voice_fields[name] = (self.voice_fields.get(name, "") + " " + rest).strip()
        else:
            self.voice_fields.setdefault(name, "")
        return name


def plain_text(text: str) -> str:
    """A field's text without its comment."""
    if "%" in text:
        text = COMMENT.sub("", text)
    return text.strip()
