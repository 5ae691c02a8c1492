"""A tune written as ABC 2.1, with rows of tab (or any text) under the notes as lyrics lines.

Reading the text again gives an equal tune (see `sameness`).
"""

from __future__ import annotations

from collections.abc import Sequence

from reedwright.tune.abc.fieldtexts import key_text, meter_text, tempo_text, unit_text
from reedwright.tune.abc.mnemonics import encode_text
from reedwright.tune.abc.parts import read_part_order
from reedwright.tune.abc.symbols import SHORT_DECORATIONS, read_user_symbol
from reedwright.tune.abc.voicewriter import VoiceWriter
from reedwright.tune.model import Tune, Voice
from reedwright.tune.rows import TabRow

# Fields that the model holds in another form; these are written from there.
FROM_MODEL = frozenset("XTKMLQPVm")
# Instructions that say how a text is to be read; what is written here needs none of them.
READING_INSTRUCTIONS = (
    "linebreak",
    "propagate-accidentals",
    "decoration",
    "abc-charset",
    "writeout-accidentals",
    "abc-version",
)


def write_abc(tune: Tune, rows: Sequence[TabRow] = ()) -> str:
    """The tune as ABC 2.1, ending with a line end.

    `rows` come as `w:` lines beneath each line of music, after the tune's own
    lyrics. A grace note takes no syllable in ABC, so texts for grace notes are left out.
    """
    lines = header_lines(tune)
    short = short_signs(tune)
    several = names_voices(tune)
    for at, voice in enumerate(tune.voices):
        if several:
            lines.append(f"V:{voice.name}")
        lines += VoiceWriter(tune, voice, short, rows if at == 0 or several else ()).lines()
    return "\n".join(lines) + "\n"


def header_lines(tune: Tune) -> list[str]:
    """The fields of the header, `K:` last."""
    lines = [f"X:{_guarded(encode_text(tune.number)) or '1'}"]
    lines += [f"T:{_guarded(encode_text(title))}" for title in tune.titles or ("",)]
    codes = {f.code for f in tune.fields}
    for field in tune.fields:
        if field.code in FROM_MODEL:
            continue
        if field.code == "I" and field.text.startswith(READING_INSTRUCTIONS):
            continue
        text = field.text if field.code in "UI" else encode_text(field.text)
        lines.append(f"{field.code}:{_guarded(text)}")
    if tune.type and "R" not in codes:
        lines.append(f"R:{encode_text(tune.type)}")
    lines.append(f"M:{meter_text(tune.meter)}")
    lines.append(f"L:{unit_text(tune.unit_length)}")
    if tune.tempo is not None:
        lines.append(f"Q:{tempo_text(tune.tempo)}")
    if tune.part_order:
        lines.append(f"P:{_part_text(tune)}")
    if names_voices(tune):
        lines += [_voice_field(tune, voice) for voice in tune.voices]
    lines.append(f"K:{key_text(tune.key, 'treble')}")
    return lines


def names_voices(tune: Tune) -> bool:
    """Whether the text needs `V:` fields."""
    return len(tune.voices) > 1 or any(v.title or v.name != "1" for v in tune.voices)


def _guarded(text: str) -> str:
    """A field's text that does not turn the field into a bar line: `N::` is none."""
    return f" {text}" if text[:1] in (":", "|") else text


def short_signs(tune: Tune) -> dict[str, str]:
    """One-letter signs by decoration, as far as the tune's own `U:` fields leave them alone."""
    signs = dict(SHORT_DECORATIONS)
    for field in tune.fields:
        if field.code == "U":
            symbol = read_user_symbol(field.text)
            if symbol is not None:
                signs[symbol[0]] = symbol[1]
    return {name: sign for sign, name in signs.items() if SHORT_DECORATIONS.get(sign) == name}


def _part_text(tune: Tune) -> str:
    for text in tune.field_texts("P"):
        if read_part_order(text) == tune.part_order:
            return text
    return "".join(tune.part_order)


def _voice_field(tune: Tune, voice: Voice) -> str:
    text = f"V:{voice.name}"
    if voice.title:
        title = encode_text(voice.title).replace('"', "&quot;")
        text += f' name="{title}"'
    if voice.bars and voice.bars[0].key.clef != tune.key.clef:
        text += f" clef={voice.bars[0].key.clef}"
    return text
