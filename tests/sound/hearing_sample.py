"""Tunes of the 1850 collection as others sound them, to judge hearing by.

Each is put on its best harp, timed at a random tempo, detuned, set to a random level and
reverberation, played by FluidSynth's harmonica, cut to an excerpt, and given pink noise.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from soundfont_takes import RATE, Played, Sound, notes_of, pink_noise, sampled_tunes, sounded

from reedwright.player.loading import load_profile
from reedwright.sound.timing import plan
from reedwright.tab.best import arrange_on_best


class Excerpt(NamedTuple):
    """Sound of shape (frames,) at `RATE`, and what was played in it, in seconds from its start."""

    title: str
    sound: Sound
    notes: tuple[Played, ...]
    reverberation: float
    cents: float


def excerpts(count: int, seed: int, seconds: float = 24.0) -> Iterator[Excerpt]:
    """Excerpts without noise, of one tune each, the same for one `seed` every time."""
    random = np.random.default_rng(seed)
    player = load_profile("player")
    for tune in sampled_tunes(count, seed):
        arrangement = arrange_on_best(tune, player)
        speed = float(random.uniform(0.75, 1.2))
        cents = float(random.uniform(-40, 40))
        level = float(random.uniform(-30, -1))
        reverberation = float(random.uniform(0, 0.6))
        place = float(random.uniform(0, 1))
        notes = notes_of(plan(arrangement, speed=speed, count_in=False))
        begin = place * max(0.0, notes[-1].end - seconds)
        part = [note for note in notes if begin <= note.start and note.end <= begin + seconds]
        lead = float(random.uniform(0.3, 0.8))
        moved = [
            note._replace(start=note.start - begin + lead, end=note.end - begin + lead)
            for note in part
        ]
        take = sounded(moved, cents=cents, level_db=level, reverberation=reverberation)
        yield Excerpt(tune.title, take.sound, take.notes, reverberation, cents)


def noisy(excerpt: Excerpt, noise_db: float | None, seed: int) -> Sound:
    """With pink noise so many decibels under the mean power while notes sound."""
    if noise_db is None:
        return excerpt.sound
    sounding = np.zeros(len(excerpt.sound), dtype=bool)
    for note in excerpt.notes:
        sounding[int(note.start * RATE) : int(note.end * RATE)] = True
    power = float(np.mean(np.square(excerpt.sound[sounding], dtype=np.float64)))
    noise = pink_noise(len(excerpt.sound), seed)
    gain = np.sqrt(power * 10 ** (-noise_db / 10) / float(np.mean(noise**2)))
    sound = (excerpt.sound + gain * noise).astype(np.float32)
    return sound / np.float32(max(1.0, float(np.abs(sound).max())))


def without_graces(notes: Sequence[Played]) -> tuple[Played, ...]:
    return tuple(note for note in notes if not note.is_grace)
