"""Excerpts of a collection as somebody would play or remember them: other key, other speed, slips.

Used by the tests of finding and by benchmarks/finding.py.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from reedwright.tune.likeness.collection import GAP, Collection
from reedwright.tune.likeness.model import Query, QueryNote


class Excerpt(NamedTuple):
    """A query, and the place in the collection and notes that it was taken from."""

    query: Query
    place: int
    notes: int


def excerpt(
    collection: Collection,
    random: np.random.Generator,
    notes: int | None = None,
    *,
    seconds: float = 4.0,
    edits: int = 0,
    ornaments: int = 0,
) -> Excerpt:
    """So many notes (or so many seconds at a random tempo) from a random place.

    Moved by up to seven semitones and 40 cents; onsets stray by 15 ms, gaps between notes vary.
    An edit makes a note wrong, leaves one out or adds one, each as likely; ornaments are
    cuts of 40 to 60 ms before a note.
    """
    quarter = float(random.uniform(0.25, 0.65))  # seconds
    while True:
        place = int(random.integers(len(collection.midi) - 60))
        count = notes or _lasting(collection, place, seconds / quarter)
        part = slice(place, place + count)
        midi = collection.midi[part]
        if count >= 6 and len(midi) == count and (midi != GAP).all():
            break
    onsets = (collection.onset[part] - collection.onset[place]) * quarter
    moved = float(random.integers(-7, 8)) + float(random.uniform(-0.4, 0.4))
    played = [
        QueryNote(
            float(midi[k]) + moved,
            float(onsets[k]) + float(random.normal(0, 0.015)),
            float(collection.length[part][k]) * quarter * float(random.uniform(0.75, 1.0)),
        )
        for k in range(count)
    ]
    for _ in range(edits):
        _slip(played, random)
    for _ in range(ornaments):
        k = int(random.integers(len(played)))
        length = float(random.uniform(0.04, 0.06))
        cut = QueryNote(played[k].midi + 2, played[k].onset, length)
        played[k] = played[k]._replace(onset=played[k].onset + length)
        played.insert(k, cut)
    return Excerpt(Query(tuple(played)), place, count)


def _lasting(collection: Collection, place: int, quarters: float) -> int:
    ahead = collection.onset[place : place + 60] - collection.onset[place]
    return int(np.searchsorted(ahead, quarters))


def _slip(played: list[QueryNote], random: np.random.Generator) -> None:
    k, kind = int(random.integers(len(played))), int(random.integers(3))
    note = played[k]
    if kind == 0:
        off = int(random.choice([-4, -3, -2, -1, 1, 2, 3, 4]))
        played[k] = note._replace(midi=note.midi + off)
    elif kind == 1 and len(played) > 5:
        del played[k]
    else:
        half = note.length / 2
        added = QueryNote(note.midi + int(random.choice([-2, 2])), note.onset + half, half)
        played[k] = note._replace(length=half)
        played.insert(k + 1, added)


def holds(collection: Collection, index: int, taken: Excerpt) -> bool:
    """Whether a tune has exactly the notes that an excerpt was taken from, in whatever key:
    collections hold many tunes twice, and share phrases."""
    asked = np.diff(collection.midi[taken.place : taken.place + taken.notes].astype(int))
    last = len(collection.firsts) - 1
    end = collection.firsts[index + 1] if index < last else len(collection.midi)
    there = np.diff(collection.midi[collection.firsts[index] : end].astype(int))
    if len(there) < len(asked):
        return False
    windows = np.lib.stride_tricks.sliding_window_view(there, len(asked))
    return bool((windows == asked).all(axis=1).any())
