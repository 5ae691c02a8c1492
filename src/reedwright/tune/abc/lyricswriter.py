"""Syllables and rows of text as `w:` lines."""

from __future__ import annotations

import re
from collections.abc import Sequence

from reedwright.tune.abc.mnemonics import encode_text
from reedwright.tune.model import Note
from reedwright.tune.rows import TabRow

_SPECIAL = re.compile(r"[-_*~|]")


def verse_line(notes: Sequence[Note], verse: int, held: bool = False) -> tuple[str, bool]:
    """One verse under the notes of a line: `The reed-mak-er's * latch _`.

    `held`: the last syllable is held into this line. Returns also whether one is held
    beyond it.
    """
    words: list[str] = []
    for note in notes:
        lyric = note.lyrics[verse] if verse < len(note.lyrics) else None
        if lyric is None:
            words.append("_" if held else "*")
        else:
            words.append(syllable(lyric.text) + ("-" if lyric.hyphen else ""))
            held = lyric.extends
    while words and words[-1] == "*":
        words.pop()
    return " ".join(words) or "*", held


def row_line(notes: Sequence[Note], row: TabRow) -> str:
    """One row under the notes of a line; empty where it has nothing for them."""
    words = [syllable(row.texts[n.id]) if row.texts.get(n.id) else "*" for n in notes]
    while words and words[-1] == "*":
        words.pop()
    return " ".join(words)


def syllable(text: str) -> str:
    r"""Text as one syllable: blanks as `~`, and `-`, `_`, `*`, `~`, `|` after a backslash."""
    escaped = _SPECIAL.sub(lambda found: "\\" + found[0], encode_text(text))
    return re.sub(r"\s+", "~", escaped.strip()) or "*"
