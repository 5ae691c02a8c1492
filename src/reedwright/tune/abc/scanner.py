"""The words of a music line: one compiled expression, and what each word says.

The expression takes a line apart in one pass; its last alternative takes any
character, so that nothing is skipped unseen. None of its parts can match in two
ways, so its time is linear in the line. What a word says is cached by its text,
for tunes are made of few words.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

from reedwright.tune.model import BarLine

_LENGTH = r"\d*/*\d*"
_NOTE = rf"(?:\^\^|\^|__|_|=)?[A-Ga-g][,']*{_LENGTH}"

TOKEN = re.compile(
    rf"""
      (?P<note>{_NOTE})
    | (?P<space>[ \t\xa0]+)
    | (?P<bar>\.?(?:\[\||\||:(?=[:|\]\[])|:(?=\s*(?:\d|$)))(?:[|:]|\]|\[(?=\|))*
        (?:\[?[ \t]*[1-9][0-9,\-.]*(?![/'<>]))?)
    | (?P<broken><+|>+)
    | (?P<grace>\{{[^}}]*\}})
    | (?P<tuplet>\(\d+(?::\d*)?(?::\d*)?)
    | (?P<slur_open>\.?\((?!&))
    | (?P<slur_close>(?<!&)\))
    | (?P<tie>\.?-)
    | (?P<quote>"[^"]*")
    | (?P<rest>[zx]{_LENGTH}|[ZX]\d*)
    | (?P<long>!(?=[^ \t!|])[^!|\n]*!)
    | (?P<plus>\+(?=[^ \t+|])[^+|\n]*\+)
    | (?P<field>\[[A-Za-z]:[^\]]*\])
    | (?P<ending>\[[ \t]*[1-9][0-9,\-.]*|\["[^"]*"(?![^\[\]|]*\]))
    | (?P<invisible>\[\])
    | (?P<chord>\[[^\[\]|:]*\]{_LENGTH})
    | (?P<short>[.~H-Wh-w])
    | (?P<overlay>\(&|&+\)?)
    | (?P<spacer>y\d*)
    | (?P<nothing>[`$*;!]|\\\s*$)
    | (?P<unknown>.)
    """,
    re.VERBOSE,
)

_NOTE_PARTS = re.compile(rf"(\^\^|\^|__|_|=)?([A-Ga-g])([,']*)({_LENGTH})")
_BAR_PARTS = re.compile(r"(\.?)([|:\[\]]*?)(\[?[ \t]*[1-9][0-9,\-.]*)?$")
_ACCIDENTALS = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0}
# ABC 2.1, section 4.13: the time of so many notes in which a group is played; the other
# sizes depend on the metre.
TUPLET_TIMES = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
MOST_PASSES = 99  # a variant ending beyond this is a slip of the pen
LONGEST_NUMBER = 6  # digits in a note length; more is a slip of the pen


class NoteWord(NamedTuple):
    """A note: its step, octave (4 from middle C), written accidental, length in units."""

    step: str
    octave: int
    accidental: int | None
    top: int
    bottom: int


class BarWord(NamedTuple):
    """A bar line: shape, how often what ends here is played, a start repeat, an ending."""

    shape: BarLine
    close: int
    open: int
    ending: tuple[int, ...] | None


class BadLength(ValueError):
    """A note length that has no sense: nothing, or beyond any note."""


@lru_cache(maxsize=4096)
def read_note(word: str) -> NoteWord:
    found = _NOTE_PARTS.match(word)
    assert found is not None
    sign, letter, marks, length = found.groups()
    octave = 4 if letter < "a" else 5
    if marks:
        octave += marks.count("'") - marks.count(",")
    top, bottom = read_length(length)
    return NoteWord(letter.upper(), octave, _ACCIDENTALS[sign] if sign else None, top, bottom)


@lru_cache(maxsize=1024)
def read_length(text: str) -> tuple[int, int]:
    """`3/2` as (3, 2); `/` halves, `//` quarters (ABC 2.1, section 4.3)."""
    if not text:
        return 1, 1
    slashes = text.count("/")
    if not slashes:
        top, bottom = _whole(text), 1
    else:
        first, _, _ = text.partition("/")
        last = text.rpartition("/")[2]
        top = _whole(first) if first else 1
        if slashes > 8:
            raise BadLength
        bottom = _whole(last) * 2 ** (slashes - 1) if last else 2**slashes
    return top, bottom


def _whole(digits: str) -> int:
    if len(digits) > LONGEST_NUMBER or int(digits) == 0:
        raise BadLength
    return int(digits)


@lru_cache(maxsize=512)
def read_bar(word: str) -> BarWord:
    found = _BAR_PARTS.match(word)
    assert found is not None
    dotted, signs, ending = found.groups()
    numbers = read_ending(ending) if ending else None
    core = signs.strip(":")
    left = len(signs) - len(signs.lstrip(":"))
    right = len(signs) - len(signs.rstrip(":"))
    if not core:  # colons alone: `::` ends one repeat and starts the next
        if len(signs) == 1:
            return BarWord(BarLine.SINGLE, 2, 0, numbers)
        left = right = max(1, len(signs) // 2)
    elif ":" in core:  # `|::|`, `:|:|` and the like: an end and a start
        left, right = max(left, 0), max(right, 0)
        inner = core.count(":")
        if not left:
            left = (inner + 1) // 2
        if not right:
            right = (inner + 1) // 2
    close = left + 1 if left else 0
    open_ = right + 1 if right else 0
    return BarWord(_shape(core, bool(dotted) and not close and not open_), close, open_, numbers)


def _shape(core: str, dotted: bool) -> BarLine:
    if core in ("[|]", "[]"):
        return BarLine.INVISIBLE
    if "]" in core:
        return BarLine.FINAL
    if "[" in core:
        return BarLine.OPENING
    if core.count("|") >= 2:
        return BarLine.DOUBLE
    return BarLine.DOTTED if dotted else BarLine.SINGLE


@lru_cache(maxsize=256)
def read_ending(text: str) -> tuple[int, ...]:
    """`1,3` and `1-3` as passes; empty where none can be made out."""
    passes: list[int] = []
    for part in re.split(r"[,.]", text.strip("[ \t")):
        numbers = [int(n) for n in re.findall(r"\d{1,4}", part)]
        if not numbers or min(numbers) < 1 or max(numbers) > MOST_PASSES:
            continue
        if len(numbers) == 2 and "-" in part and numbers[0] <= numbers[1]:
            passes += range(numbers[0], numbers[1] + 1)
        else:
            passes += numbers
    return tuple(dict.fromkeys(passes))
