"""What a person types to find a tune: notes in ABC, or ups and downs.

Public: `typed_query`, `typed_queries`.
"""

from __future__ import annotations

from reedwright.tune.abc import read_abc
from reedwright.tune.likeness.model import NotFindable, Query, QueryNote
from reedwright.tune.model import Change, Note, Tune
from reedwright.tune.refused import Refused

_HEAD = "X:1\nT:typed\nM:none\nL:1/8\nK:{key}\n"


SIGNATURES = ("C", "G", "D", "A", "F")
"""Those that most dance tunes stand in (common practice, no source): tried where none is said."""


def typed_queries(notes: str, key: str | None = None) -> tuple[Query, ...]:
    """As `typed_query`; without a key, what the notes mean under each usual signature.

    Raises `NotFindable`.
    """
    if key is not None:
        return (typed_query(notes, key),)
    return tuple(dict.fromkeys(typed_query(notes, each) for each in SIGNATURES))


def typed_query(notes: str, key: str = "C") -> Query:
    """Notes in ABC as a query: `GABc d2`, with `K:` and bar lines if one likes.

    `key` is the key that the notes are meant in. Lengths are looked at only where they
    differ: who types all notes alike has not said how long they are.

    Raises `NotFindable` for what is no ABC.
    """
    read = read_abc(_HEAD.format(key=key) + notes + "\n", "the notes")
    if len(read) != 1:
        raise _not_read(notes, "there must be one melody")
    tune = read[0]
    if isinstance(tune, Refused):
        raise _not_read(notes, str(tune.error))
    if any(problem for problem in tune.problems if problem.bar is not None):
        raise _not_read(notes, tune.problems[0].message)
    found = _as_written(tune)
    return Query(found, has_rhythm=len({note.length for note in found}) > 1)


def _as_written(tune: Tune) -> tuple[QueryNote, ...]:
    """The notes once through, whatever repeat signs were typed; ties joined."""
    found: list[QueryNote] = []
    now = 0.0
    held = False
    for bar in tune.bars:
        for event in bar.events:
            if isinstance(event, Change):
                continue
            length = float(event.length)
            if isinstance(event, Note):
                midi = float(event.pitch.midi)
                if held and found[-1].midi == midi:
                    found[-1] = found[-1]._replace(length=found[-1].length + length)
                else:
                    found.append(QueryNote(midi, now, length))
                held = event.tied
            now += length
    return tuple(found)


def _not_read(notes: str, reason: str) -> NotFindable:
    told = f" ({reason})" if reason else ""
    return NotFindable(
        f"{notes!r} can't be read as notes{told}. Type them in ABC, such as 'GABc d2B2'; "
        "an apostrophe raises a note by an octave, a comma lowers it."
    )
