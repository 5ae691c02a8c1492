r"""Lyrics: the syllables of `w:` lines and the notes that they belong to (ABC 2.1, section 5.1)."""

from __future__ import annotations

import re

from reedwright.tune.abc.drafts import NoteDraft
from reedwright.tune.abc.mnemonics import decode_syllable
from reedwright.tune.model import Lyric

HOLD = "_"  # the syllable before is held over this note
NEXT_BAR = "|"

_SYLLABLE = re.compile(r"\s+|(-+)|([_*|])|((?:\\.|[^\s\-_*|\\]|\\)+)")


def read_syllables(text: str) -> list[Lyric | str]:
    """The words of a `w:` line: syllables, and the signs `*`, `_` and `|`."""
    words: list[Lyric | str] = []
    for found in _SYLLABLE.finditer(text):
        hyphens, sign, syllable = found.groups()
        if syllable:
            words.append(Lyric(decode_syllable(syllable)))
        elif sign:
            words.append(sign)
        elif hyphens:
            before = words[-1] if words else None
            if isinstance(before, Lyric) and not before.hyphen:
                words[-1] = before._replace(hyphen=True)
                extra = len(hyphens) - 1
            else:
                extra = len(hyphens)
            words += [Lyric("", hyphen=True)] * extra
    return words


def align(
    words: list[Lyric | str],
    notes: list[tuple[NoteDraft, int]],
    verse: int,
    previous: NoteDraft | None = None,
) -> int:
    """Put the syllables under the notes as this verse (from 0); how many found no note.

    `previous`: the note before these that was sung last, which a `_` at the start holds.
    """
    at = 0
    left = 0
    for word in words:
        if word == NEXT_BAR:
            if at and at <= len(notes):
                bar = notes[at - 1][1]
                while at < len(notes) and notes[at][1] == bar:
                    at += 1
            continue
        if at >= len(notes):
            left += isinstance(word, Lyric) and bool(word.text)
            continue
        note = notes[at][0]
        at += 1
        if word == HOLD:
            if previous is not None:
                _hold(previous, verse)
            continue
        if isinstance(word, Lyric) and word.text:
            lyrics = note.lyrics
            if lyrics is None:
                lyrics = note.lyrics = []
            while len(lyrics) <= verse:
                lyrics.append(None)
            lyrics[verse] = word
            previous = note
    return left


def last_sung(notes: list[tuple[NoteDraft, int]], verse: int) -> NoteDraft | None:
    """The last of the notes with a syllable of this verse."""
    for note, _ in reversed(notes):
        if note.lyrics is not None and verse < len(note.lyrics) and note.lyrics[verse]:
            return note
    return None


def _hold(note: NoteDraft, verse: int) -> None:
    """Say of a note's syllable that it is held over what follows."""
    if note.lyrics is not None and verse < len(note.lyrics):
        held = note.lyrics[verse]
        if held is not None:
            note.lyrics[verse] = held._replace(extends=True)
