"""A sample of benchmarks/transcribing.py: tunes of the 1850 collection written down.

The collection is judged as music21 ships it; metre, key and places are its own.
"""

from __future__ import annotations

import numpy as np
from soundfont_takes import sampled_tunes

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.takes.transcribing.transcribe import transcribe
from reedwright.tune.model import Tune
from reedwright.tune.unfold import unfold
from transcribing import a_take, measured


def test_most_notes_of_sampled_tunes_are_right_in_pitch_and_place() -> None:
    tunes = sampled_tunes(60)
    results = [measured(a_take(tunes[k], k, symbolic=True, quick=True)) for k in range(3, 60, 16)]
    scores = [score for _, score in results]
    assert np.mean([s.notes for s in scores]) > 0.75
    assert np.mean([s.notes_lenient for s in scores]) > 0.85
    assert sum(s.metre_lenient and s.signature for s in scores) >= 3
    assert all(s.readable for s in scores)


def a_short_tune() -> Tune:
    return min(sampled_tunes(60)[20:40], key=lambda tune: float(unfold(tune).length))


def test_a_tune_is_written_down_by_ear_and_can_be_put_on_a_harp() -> None:
    take = a_take(a_short_tune(), 30, symbolic=False, quick=True)
    result, score = measured(take)
    assert score.notes_lenient > 0.85
    assert score.readable
    harp = make_harp(result.tune.key.tonic)
    assert arrange(result.tune, harp, load_profile("player")).notes_played > 20


def test_a_spoilt_take_scores_worse() -> None:
    """The measure can fail: every third note a tone higher."""
    take = a_take(a_short_tune(), 30, symbolic=True, quick=True)
    _, right = measured(take)
    notes = tuple(
        note if k % 3 else type(note)(
            note.start, note.end, note.hz * 2 ** (2 / 12), note.spread, note.level, note.attack,
            note.surety,
        )
        for k, note in enumerate(take.heard.notes)
    )  # fmt: skip
    heard = type(take.heard)(
        notes, take.heard.track, take.heard.novelty, take.heard.a4, take.heard.duration
    )
    _, spoilt = measured(take._replace(heard=heard))
    assert spoilt.notes_lenient < right.notes_lenient - 0.2
    assert transcribe(heard).abc
