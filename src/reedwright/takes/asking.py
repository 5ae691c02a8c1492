"""What was heard as a melody to find in a collection."""

from __future__ import annotations

from reedwright.sound.hearing.model import Heard, HeardNote
from reedwright.tune.likeness.model import Query, QueryNote

# Seconds: what is shorter is a cut or a slip. Cuts last 30 to 60 ms (docs/sound.md).
SHORTEST = 0.07
# A longer query fits no window of a tune as written once, so stretches of it are asked for.
STRETCH = 32  # notes: about four bars of a reel
MOST_STRETCHES = 8


def query_of(heard: Heard) -> Query:
    """All notes heard, ornaments left out."""
    return Query(tuple(_asked(note) for note in heard.notes if note.seconds >= SHORTEST))


def queries_of(heard: Heard) -> tuple[Query, ...]:
    """The same in stretches, spread over a long take: so a whole take finds its tune, too,
    whatever was played or said around it."""
    notes = query_of(heard).notes
    if len(notes) <= 2 * STRETCH:
        return (Query(notes),)
    count = min(MOST_STRETCHES, len(notes) // STRETCH)
    last = len(notes) - STRETCH
    starts = [last * k // (count - 1) for k in range(count)]
    return tuple(Query(notes[start : start + STRETCH]) for start in starts)


def _asked(note: HeardNote) -> QueryNote:
    return QueryNote(note.midi, note.start, note.seconds)
