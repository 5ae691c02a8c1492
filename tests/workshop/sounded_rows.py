"""Rows of reeds as sound: made reeds, and FluidSynth's harmonica, with what sounds when.

Tests that use this need `tests/takes` on the path, too.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from made_reeds import MadeReed, Sound, laid
from played_reeds import Count, PlayedRow
from soundfont_takes import Played, sounded

from reedwright.harp.model import Reed
from reedwright.harp.naming import A4_HZ, A4_MIDI
from reedwright.workshop.measuring.model import Measurement

LEAD = 0.3  # seconds of silence before and after


class SoundedRow(NamedTuple):
    """`spans`: seconds of each of the row's tones."""

    row: PlayedRow
    sound: Sound
    rate: int
    spans: tuple[tuple[float, float], ...]


def sounded_row(row: PlayedRow, seed: int, soundfont: bool, noise_db: float = 30.0) -> SoundedRow:
    """Tones of 0.5 to 0.9 s, 0.2 to 0.4 s apart, of many levels, over pink noise."""
    random = np.random.default_rng(seed)
    now, spans = LEAD, []
    for _ in row.tones:
        seconds = float(random.uniform(0.5, 0.9))
        spans.append((now, now + seconds))
        now += seconds + float(random.uniform(0.2, 0.4))
    hz = [tone.hz for tone in row.tones]
    if soundfont:
        notes = [
            Played(
                start,
                end,
                A4_MIDI + 12 * float(np.log2(each / A4_HZ)),
                velocity=float(random.uniform(0.5, 0.9)),
            )
            for each, (start, end) in zip(hz, spans, strict=True)
        ]
        take = sounded(notes, noise_db=noise_db, seed=seed)
        return SoundedRow(row, take.sound, take.rate, tuple(spans))
    reeds = [
        (
            start,
            MadeReed(
                each,
                end - start,
                level=float(0.2 * 10 ** (random.uniform(-4, 4) / 20)),
                open_share=float(random.uniform(0.35, 0.5)),
                rise=float(random.uniform(0.008, 0.03)),
                scoop=float(random.uniform(0, 40)),
                drift=float(random.uniform(-3, 3)),
            ),
        )
        for each, (start, end) in zip(hz, spans, strict=True)
    ]
    return SoundedRow(row, laid(reeds, now + LEAD, noise_db, seed), 22_050, tuple(spans))


def count_sounded(sounded: SoundedRow, measurement: Measurement) -> tuple[Count, int]:
    """The count, a tone of the row that was not heard being wrong; and how many heard tones are
    of none (or a second piece of one that has been counted)."""
    right = near = tones = strays = alone = 0
    free = list(measurement.tones)
    for reed, (start, end) in zip(sounded.row.truth, sounded.spans, strict=True):
        mine = [each for each in free if start < (each.tone.start + each.tone.end) / 2 < end]
        named = max(mine, key=lambda each: each.tone.seconds, default=None)
        if named is not None:
            free.remove(named)
        if reed is None:
            strays += 1
            alone += named is None or named.reed is None
            continue
        tones += 1
        if named is None:
            continue
        right += named.reed == reed
        near += named.reed == reed or reed in named.others
    return Count(tones, right, near, strays, alone), len(free)


def wrong_names(sounded: SoundedRow, measurement: Measurement) -> Sequence[tuple[Reed, float]]:
    """For looking into: the row's reeds whose tone was named otherwise, and when it begins."""
    found = []
    for reed, (start, end) in zip(sounded.row.truth, sounded.spans, strict=True):
        mine = [
            each
            for each in measurement.tones
            if start < (each.tone.start + each.tone.end) / 2 < end and each.reed == reed
        ]
        if reed is not None and not mine:
            found.append((reed, start))
    return found
