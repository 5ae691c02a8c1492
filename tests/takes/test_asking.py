"""A take is asked for in stretches, so that what was played around the tune does no harm."""

from __future__ import annotations

import numpy as np
from imagined_hearing import heard_of
from soundfont_takes import Played, notes_of
from sounding_tunes import EXAMPLES, JIG, example

from reedwright.sound.timing import plan
from reedwright.takes.asking import MOST_STRETCHES, STRETCH, queries_of
from reedwright.tune.likeness.collection import build_collection
from reedwright.tune.likeness.finding import find_any
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes


def test_a_tune_is_found_after_long_noodling() -> None:
    """Noodling: two hundred notes by lot, which are of no tune."""
    random = np.random.default_rng(11)
    noodled = [Played(0.2 * k, 0.2 * k + 0.18, float(random.integers(60, 85))) for k in range(200)]
    tune = [
        note._replace(start=note.start + 41, end=note.end + 41)
        for note in notes_of(plan(example(JIG), count_in=False))
    ]
    queries = queries_of(heard_of([*noodled, *tune]))
    collection = build_collection(tune for tune in read_tunes(EXAMPLES) if isinstance(tune, Tune))
    (best, *_) = find_any(collection, queries, 3)
    assert collection.tunes[best.index].title == "Two Loaves and a Lantern"
    assert len(queries) == MOST_STRETCHES
    assert {len(query.notes) for query in queries} == {STRETCH}


def test_a_few_notes_are_asked_for_whole() -> None:
    notes = [Played(0.3 * k, 0.3 * k + 0.28, 60.0 + k) for k in range(12)]
    (query,) = queries_of(heard_of(notes))
    assert [round(note.midi) for note in query.notes] == [60 + k for k in range(12)]
