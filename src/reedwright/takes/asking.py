"""What was heard as a melody to find in a collection."""

from __future__ import annotations

from reedwright.sound.hearing.model import Heard, HeardNote
from reedwright.tune.likeness.model import Query, QueryNote

SHORTEST = (
    0.07  # seconds; what is shorter is a cut or a slip. Cuts last 30 to 60 ms (docs/sound.md)
)


def query_of(heard: Heard, start: float = 0.0, end: float | None = None) -> Query:
    """The notes that begin from `start` to before `end` (seconds), ornaments left out."""
    chosen = [
        note
        for note in heard.notes
        if note.start >= start and (end is None or note.start < end) and note.seconds >= SHORTEST
    ]
    return Query(tuple(_asked(note) for note in chosen))


def _asked(note: HeardNote) -> QueryNote:
    return QueryNote(note.midi, note.start, note.seconds)
