"""Signs among the notes: slurs, decorations, quoted text, layers, and what has no meaning."""

from __future__ import annotations

import re

from reedwright.tune.abc.barlines import read_bar_line
from reedwright.tune.abc.keys import alterations
from reedwright.tune.abc.symbols import LONG_DECORATIONS, SYNONYMS
from reedwright.tune.abc.texts import read_quoted
from reedwright.tune.abc.voice import VoiceReader
from reedwright.tune.model import Annotation

# Between two exclamation marks: music, so they are line breaks as old programs wrote them.
_MUSIC_INSIDE = re.compile(r"[|:\[\]]|[A-Ga-g]\d?\s+[A-Ga-g(]")


def open_slur(voice: VoiceReader, word: str, column: int) -> None:
    """A slur begins at the next note."""
    voice.slurs += 1


def close_slur(voice: VoiceReader, word: str, column: int) -> None:
    """A slur ends at the last note."""
    if voice.last is not None and voice.last.pitches:
        voice.last.slurs_close += 1


def read_quote(voice: VoiceReader, word: str, column: int) -> None:
    """A chord symbol or annotation waits for the next note."""
    chord, annotation = read_quoted(word[1:-1])
    if chord and not voice.chord_symbol:
        voice.chord_symbol = chord
    elif chord:
        voice.annotations.append(Annotation("above", chord))
    elif annotation is not None:
        voice.annotations.append(annotation)


def read_long(voice: VoiceReader, word: str, column: int) -> None:
    """`!trill!`."""
    name = word[1:-1].strip()
    name = SYNONYMS.get(name, name)
    if name not in LONG_DECORATIONS and _MUSIC_INSIDE.search(name):
        voice.hard_break()
        voice.read_line(word[1:-1], voice.line, column + 1)  # two old line breaks
    elif name:
        if name not in LONG_DECORATIONS:
            voice.state.warn(
                f"'{word}' is no decoration that is known; kept as it is", voice.line, column
            )
        voice.decorations.append(name)


def read_short(voice: VoiceReader, word: str, column: int) -> None:
    """A one-letter sign."""
    name = voice.state.symbols.get(word)
    if name is None:
        voice.state.warn(f"'{word}' has no meaning here; passed over", voice.line, column)
    elif name.startswith('"'):
        read_quote(voice, name, column)
    elif name:
        voice.decorations.append(name)


def read_overlay(voice: VoiceReader, word: str, column: int) -> None:
    """`&`: another layer of the same bar begins."""
    if word.startswith("(") or word.endswith(")"):
        voice.state.warn("an overlay of several bars is read bar by bar", voice.line, column)
        if word != "&":
            word = word.strip("()")
    for _ in range(word.count("&") or 1):
        voice.bar.overlays.append([])
    voice.events = voice.bar.overlays[-1]
    voice.alters = alterations(voice.key)
    voice.octave_alters = {}
    voice.beam_from = voice.last = None
    voice.end_tuplet()
    voice.broken = None


def read_nothing(voice: VoiceReader, word: str, column: int) -> None:
    """Spacers, and signs of line breaks."""
    if word != "`":
        voice.beam_from = None
    if word in ("$", "!") and word in voice.state.line_breaks:
        voice.hard_break()


def read_unknown(voice: VoiceReader, word: str, column: int) -> None:
    """What has no meaning here."""
    if word == ":" and not voice.bar.filled:
        voice.state.repaired("':' after a bar line read as |:", voice.line, column)
        read_bar_line(voice, "|:", column)
        return
    if word == "[":
        raise voice.error("a chord that is not closed", column, "Write ] after its last note")
    if word == "{":
        raise voice.error(
            "grace notes that are not closed", column, "Write } after the last of them"
        )
    if word == '"':
        raise voice.error(
            "a chord symbol or annotation that is not closed", column, 'Write " at its end'
        )
    voice.state.warn(f"'{word}' has no meaning here; passed over", voice.line, column)


def read_field(voice: VoiceReader, word: str, column: int) -> None:
    """An inline field that was not taken out before."""
    voice.state.warn(f"'{word}' was passed over", voice.line, column)
