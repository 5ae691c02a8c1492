"""Reeds sounded by a General MIDI soundfont's harmonica, with the pitch that each really has.

FluidSynth rounds pitches to whole cents, and the soundfont's samples lie up to 36 cents off, so
what was asked for is not what sounds. Truth is therefore measured: each key, held for five seconds
without noise, has its first partial cut out of the spectrum of the whole; how far that analytic
signal (Gabor 1946, Theory of communication) turns in three seconds is the pitch, to 0.02 cents.
Two keys an octave apart in one sample, which FluidSynth reads at twice the speed, agree by it
within that. It shares nothing with the measuring under test but the idea of phase.

Pitches in Hz, times in seconds, sound float32 of shape (frames,) at `soundfont_takes.RATE`.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from made_reeds import pink
from soundfont_takes import RATE, Played, Sound, sounded

_HELD, _FROM, _TO = 5.0, 1.0, 4.0


@lru_cache(maxsize=4)
def true_pitches(keys: tuple[float, ...]) -> dict[float, float]:
    """What each (fractional) MIDI note really sounds at."""
    step = _HELD + 1.0
    notes = [Played(k * step, k * step + _HELD, key) for k, key in enumerate(keys)]
    whole = sounded(notes, level_db=-1.0).sound
    found = {}
    for note in notes:
        begin = round(note.start * RATE)
        sound = whole[begin : begin + round(_HELD * RATE)].astype(np.float64)
        hertz = 440 * 2 ** ((note.midi - 69) / 12)
        spectrum = np.fft.fft(sound)
        bins = np.fft.fftfreq(len(sound), 1 / RATE)
        spectrum[(bins < 0.6 * hertz) | (bins > 1.4 * hertz)] = 0
        phase = np.unwrap(np.angle(np.fft.ifft(spectrum)))
        turned = phase[round(_TO * RATE)] - phase[round(_FROM * RATE)]
        found[note.midi] = float(turned / (2 * np.pi * (_TO - _FROM)))
    return found


def soundfont_reeds(
    notes: Sequence[Played], noise_db: float | None = 30.0, seed: int = 1, room: float = 0.0
) -> Sound:
    """Notes played, pink noise so many dB under the mean power while they sound."""
    take = sounded(list(notes), level_db=-6.0, reverberation=room)
    sound = np.pad(take.sound, (0, round(0.4 * RATE)))
    if noise_db is not None:
        sounding = np.zeros(len(sound), dtype=bool)
        for note in notes:
            sounding[round(note.start * RATE) : round(note.end * RATE)] = True
        level = np.sqrt(np.mean(sound[sounding] ** 2, dtype=np.float64))
        sound = sound + np.float32(level * 10 ** (-noise_db / 20)) * pink(len(sound), seed, RATE)
    return sound.astype(np.float32)
