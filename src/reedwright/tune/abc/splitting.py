"""A tunebook cut into its tunes, as a stream.

A tune goes from its `X:` line to the next empty line (ABC 2.1, section 2.2). Real
tunebooks are looser, and these have one sensible reading: tunes with no empty
line between them, an empty line inside a header or between header and music,
a tune without `X:`, and the line ends of any system.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

HEADER_FIELD = re.compile(r"[A-Za-z]:")
# In the body a note may stand before a repeat sign: `A:|`, `d::`.
FIELD_LINE = re.compile(r"[H-WYh-uwy]:|[A-Ga-gXZvxz]:(?![|:])")


class Line(NamedTuple):
    """One source line: its number from 1, its text without the line end."""

    number: int
    text: str


@dataclass(slots=True)
class RawTune:
    """The lines of one tune, and the lines of the file header before the first tune.

    `left_over`: the first line after the tune's end that looks like music.
    """

    lines: list[Line]
    file_header: tuple[Line, ...] = ()
    left_over: Line | None = None
    gaps: list[int] = field(default_factory=list)

    @property
    def text(self) -> str:
        return "\n".join(line.text for line in self.lines) + "\n"


def physical_lines(lines: Iterable[str]) -> Iterator[Line]:
    """Number the lines and take their ends off: LF, CR LF or CR, and a byte order mark."""
    number = 0
    for chunk in lines:
        if number == 0 and chunk.startswith("\ufeff"):
            chunk = chunk[1:]
        if chunk.endswith("\n"):
            chunk = chunk[:-1]
        if chunk.endswith("\r"):
            chunk = chunk[:-1]
        if "\r" in chunk or "\n" in chunk:
            for part in re.split(r"\r\n|\r|\n", chunk):
                number += 1
                yield Line(number, part)
        else:
            number += 1
            yield Line(number, chunk)


def split_tunebook(lines: Iterable[str]) -> Iterator[RawTune]:
    """Yield the tunes one by one; holds no more than one tune in memory."""
    header: list[Line] = []
    current: RawTune | None = None
    has_key = has_music = False
    closed = True  # whether an empty line has ended the current tune
    block: list[Line] = []  # a paragraph outside of any tune
    seen_tune = False

    for line in physical_lines(lines):
        text = line.text
        stripped = text.strip()
        if stripped.startswith("X:") and text[:1] in "X \t":
            if current is not None:
                yield current
            elif block and not seen_tune:
                orphan = _orphan(block, tuple(header))
                if orphan is not None:
                    yield orphan
                else:
                    header += block
            block = []
            current = RawTune([line], tuple(header))
            seen_tune = True
            has_key = has_music = closed = False
            continue
        if not stripped:
            if current is not None and not closed:
                if has_key and has_music:
                    closed = True
                else:
                    current.gaps.append(line.number)
                    current.lines.append(line)
            elif current is None and block:
                orphan = _orphan(block, tuple(header))
                if orphan is not None:
                    yield orphan
                    seen_tune = True
                elif not seen_tune:
                    header += block
                block = []
            elif current is not None and closed and block:
                orphan = _orphan(block, tuple(header))
                if orphan is not None:
                    yield current
                    current = None
                    yield orphan
                block = []
            continue
        if current is not None and not closed:
            current.lines.append(line)
            if text.startswith("K:"):
                has_key = True
            elif has_key and not text.startswith("%") and not FIELD_LINE.match(text):
                has_music = True
            continue
        if current is not None and current.left_over is None and _looks_like_music(text):
            current.left_over = line
        block.append(line)

    if current is not None:
        yield current
    if block:
        orphan = _orphan(block, tuple(header))
        if orphan is not None:
            yield orphan


def _orphan(block: list[Line], header: tuple[Line, ...]) -> RawTune | None:
    """A paragraph that is a tune although it has no `X:`: a key, and music after it."""
    for index, line in enumerate(block):
        if line.text.startswith("K:"):
            if any(not FIELD_LINE.match(later.text) for later in block[index + 1 :]):
                return RawTune(list(block), header)
            return None
    return None


def _looks_like_music(text: str) -> bool:
    return text.count("|") >= 2 and not FIELD_LINE.match(text) and not text.startswith("%")
