"""Recordings for tests: a tune as the reed voice plays it, with known slips."""

from __future__ import annotations

import io
import wave
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from reedwright.harp.making import parse_harp
from reedwright.harp.naming import frequency
from reedwright.player.loading import load_profile
from reedwright.sound.timing import plan
from reedwright.sound.voice import RATE, render
from reedwright.tab.arrange import arrange
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

FULL = 32767  # of 16 bits


def played(abc: str, harp: str = "G", slips: Mapping[int, int] | None = None) -> bytes:
    """A tune as a WAV file. `slips`: semitones by which a note is off, by its place among those
    that are heard."""
    (tune,) = read_abc(abc)
    assert isinstance(tune, Tune)
    arrangement = arrange(tune, parse_harp(harp), load_profile("player"))
    timeline = plan(arrangement, count_in=False)
    notes = list(timeline.notes)
    for place, semitones in (slips or {}).items():
        midi = notes[place].midi + semitones
        notes[place] = replace(notes[place], midi=midi, frequency=frequency(midi), glide_time=0.0)
    return wav_of(render(replace(timeline, notes=tuple(notes))).mean(axis=1))


def wav_of(sound: npt.NDArray[np.float32], rate: int = RATE) -> bytes:
    """One channel, shape (samples,), as a WAV file of 16 bits, as loud as it can be."""
    loudest = float(np.abs(sound).max()) or 1.0
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(np.round(sound / loudest * 0.8 * FULL).astype("<i2").tobytes())
    return out.getvalue()
