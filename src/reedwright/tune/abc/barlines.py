"""Bar lines of every shape, variant endings, and the signs at a bar line."""

from __future__ import annotations

from reedwright.tune.abc.scanner import read_bar, read_ending
from reedwright.tune.abc.symbols import NAVIGATION, TARGETS
from reedwright.tune.abc.voice import VoiceReader
from reedwright.tune.model import Annotation, BarLine

SHAPE_RANK = {  # of two bar lines with nothing between them the stronger one stands
    BarLine.NONE: 0,
    BarLine.INVISIBLE: 1,
    BarLine.DOTTED: 2,
    BarLine.SINGLE: 3,
    BarLine.DOUBLE: 4,
    BarLine.OPENING: 5,
    BarLine.FINAL: 6,
}


def read_bar_line(voice: VoiceReader, word: str, column: int) -> None:
    """Any bar line, with the ending that may begin at it."""
    shape, close, open_, ending = read_bar(word)
    marks_at_bar_line(voice, column)
    if voice.bar.filled:
        voice.close_bar(shape)
    elif voice.bars:
        before = voice.bars[-1]
        if SHAPE_RANK[shape] > SHAPE_RANK[before.closing]:
            before.closing = shape
    elif shape is not BarLine.SINGLE or not (open_ or voice.bar.repeat_open):
        voice.bar.opening = shape
    if close and voice.bars and not voice.bar.filled:
        voice.bars[-1].repeat_close = max(voice.bars[-1].repeat_close, close)
    if open_:
        if voice.bar.opening is BarLine.SINGLE:
            voice.bar.opening = BarLine.NONE
        voice.bar.repeat_open = True
        voice.bar.open_times = open_
    if ending is not None:
        start_ending(voice, ending, word, column)


def read_ending_start(voice: VoiceReader, word: str, column: int) -> None:
    """`[1` or `["last time"`."""
    marks_at_bar_line(voice, column)
    if voice.bar.filled:
        voice.close_bar(BarLine.NONE)
    text = word[1:].strip()
    start_ending(voice, read_ending(text.strip('"')), word, column)
    if text.startswith('"'):
        voice.annotations.append(Annotation("above", text.strip('"')))


def start_ending(voice: VoiceReader, passes: tuple[int, ...], word: str, column: int) -> None:
    """A variant ending begins with the open bar."""
    if not passes:
        passes = ((voice.last_passes[-1] if voice.last_passes else 0) + 1,)
        voice.state.repaired(f"'{word}' names no pass; read as {passes[0]}", voice.line, column)
    voice.bar.ending = passes
    voice.last_passes = passes


def marks_at_bar_line(voice: VoiceReader, column: int) -> None:
    """Signs before a bar line: those of navigation belong to a bar."""
    if not voice.decorations:
        return
    for name in voice.decorations:
        mark = NAVIGATION.get(name)
        if mark is None:
            voice.state.warn(f"'{name}' at a bar line was left out", voice.line, column)
        elif mark not in TARGETS and (voice.bar.filled or not voice.bars):
            voice.bar.marks.append(mark)
        elif mark not in TARGETS:
            voice.bars[-1].marks.append(mark)
    targets = [n for n in voice.decorations if NAVIGATION.get(n) in TARGETS]
    voice.decorations = targets
