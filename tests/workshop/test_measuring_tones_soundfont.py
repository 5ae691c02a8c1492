"""Reeds that we did not make: a soundfont's harmonica, and the pitch it really has."""

from __future__ import annotations

import numpy as np
import pytest
from reed_judges import by_praat, cents, heard
from soundfont_reeds import soundfont_reeds, true_pitches
from soundfont_takes import RATE, Played, zone_speech

pytestmark = pytest.mark.no_cover


def test_the_soundfonts_reeds_are_known_within_a_cent_and_better_than_by_praat() -> None:
    """Truth: `true_pitches`, apart from any tracker. Reference: Praat, in parselmouth."""
    keys = (55.1, 62.0, 67.3, 74.2, 79.9, 88.1, 96.0)
    true = true_pitches(keys)
    notes, start = [], 0.3
    for k, key in enumerate((*keys, *keys[::-1])):
        seconds = 1.0 if k < len(keys) else 0.3
        notes.append(Played(start, start + seconds, key))
        start += seconds + (0.25 if k % 2 else 0.1)
    sound = soundfont_reeds(notes, 30.0, 5)
    tones = heard(sound, RATE)
    assert len(tones) == len(notes)
    ours, praat = [], []
    for note, tone in zip(notes, tones, strict=True):
        off = abs(cents(tone.hz, true[note.midi]))
        assert off < (1.0 if note.end - note.start > 0.5 else 2.0)
        assert tone.upper_hz == 0
        speaks = zone_speech()[round(note.midi)].speaks
        assert tone.start == pytest.approx(note.start + speaks, abs=0.03)
        ours.append(off)
        hz = by_praat(sound, RATE, note.start, note.end, true[note.midi])
        praat.append(abs(cents(hz, true[note.midi])))
    assert np.median(ours) < 0.5
    assert np.median(ours) <= np.median(praat)
    assert max(ours) <= max(praat)


def test_two_of_the_soundfonts_reeds_beat_as_their_pitches_say() -> None:
    pairs = ((62.0, 74.1), (67.2, 71.1), (67.0, 67.2))
    true = true_pitches(tuple(sorted({each for pair in pairs for each in pair})))
    for k, pair in enumerate(pairs):
        low, high = sorted(true[each] for each in pair)
        notes = [Played(0.2, 3.2, each) for each in pair]
        (tone,) = heard(soundfont_reeds(notes, 30.0, k), RATE)
        assert tone.beats is not None
        m, n = tone.beats.partials
        assert tone.beats.rate == pytest.approx(abs(m * low - n * high), abs=0.05)
        assert abs(cents(tone.hz, low)) < 0.5
        assert abs(cents(tone.upper_hz, high)) < 0.5
