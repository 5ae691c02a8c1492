"""Reeds named in recordings, from sound to the table: made reeds, and FluidSynth's harmonica.

What was sounded is known. 200 recordings stand in benchmarks/reed_naming.py; here are a few.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from made_reeds import RATE, MadeReed, laid
from played_reeds import PlayedRow, tones_of
from sounded_rows import count_sounded, sounded_row
from soundfont_takes import write_wav

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Reed
from reedwright.workshop.measuring.listening import NoReedHeard
from reedwright.workshop.measuring.orders import OrderError
from reedwright.workshop.measuring.recording import measure_recording
from reedwright.workshop.targets.making import reed_targets

B, D = Breath.BLOW, Breath.DRAW


def row_of(reeds: list[Reed], key: str, tuning: str, seed: int) -> PlayedRow:
    targets = reed_targets(make_harp(key, tuning))
    tones, off = tones_of(reeds, targets, np.random.default_rng(seed))
    return PlayedRow(targets, tones, tuple(reeds), off)


@pytest.mark.parametrize("soundfont", [False, True])
def test_a_recording_of_reeds_is_named_whole(soundfont: bool, tmp_path: Path) -> None:
    reeds = [Reed(hole, breath) for hole in range(1, 5) for breath in (D, B)]
    row = row_of(reeds, "Bb", "natural-minor", 4)
    made = sounded_row(row, 2, soundfont)
    said: list[float] = []
    path = write_wav(tmp_path / "reeds.wav", made.sound, made.rate)
    found = measure_recording(path, row.targets, progress=lambda share, doing: said.append(share))
    total, extra = count_sounded(made, found)
    assert (total.right, total.tones, extra) == (8, 8, 0)
    assert found.order == "hole by hole, draw first, up"
    true = {reed: row.off[reed] for reed in reeds}
    for each in found.reeds:
        # Between tones of one reed the row scatters by a cent.
        assert each.cents == pytest.approx(true[each.reed], abs=5)
    assert said == sorted(said)


def test_octaves_sounded_together_are_two_reeds_with_their_beats(tmp_path: Path) -> None:
    targets = reed_targets(make_harp("C"))
    low, high = targets.of(Reed(1, B)).hz, targets.of(Reed(4, B)).hz * 2 ** (5 / 1200)
    sound = laid([(0.3, MadeReed(low, 2.0)), (0.3, MadeReed(high, 2.0))], 2.8)
    path = write_wav(tmp_path / "octave.wav", sound / np.abs(sound).max(), RATE)
    (pair,) = measure_recording(path, targets).tones
    assert (pair.reed, pair.upper) == (Reed(1, B), Reed(4, B))
    assert pair.tone.beats is not None
    # The beats of an octave: twice the lower against the upper.
    assert pair.tone.beats.rate == pytest.approx(high - 2 * low, abs=0.05)


def test_a_recording_without_tones_is_refused_with_what_to_do(tmp_path: Path) -> None:
    path = write_wav(tmp_path / "silence.wav", np.zeros(2 * RATE, dtype=np.float32), RATE)
    with pytest.raises(NoReedHeard, match="Play each reed"):
        measure_recording(path, reed_targets(make_harp("C")))
    # An order that is not understood is refused before anything is read.
    with pytest.raises(OrderError):
        measure_recording(tmp_path / "nothing.wav", reed_targets(make_harp("C")), "sideways")
