"""Which channels of a recording a practice track is made of."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.io import wavfile

from reedwright.sound.recording.opening import open_recording
from reedwright.takes.practice.preparing import RATE, cleaned, decoded
from reedwright.takes.practice.trimming import Trim

TONE = 0.3 * np.sin(2 * np.pi * 440 * np.arange(2 * RATE) / RATE)
INSIDE = slice(RATE // 2, RATE)  # away from the fades


@pytest.mark.parametrize(
    ("gains", "channels"),
    [
        ((1.0, 0.0), 1),  # one microphone plugged in
        ((0.0, 1.0), 1),
        ((0.005, 1.0), 1),  # 46 dB under: it comes over from the other cable
        ((0.05, 1.0), 2),  # 26 dB under: someone beside the microphone
        ((1.0, 1.0), 1),
    ],
)
def test_a_dead_channel_is_left_out(
    gains: tuple[float, float], channels: int, tmp_path: Path
) -> None:
    path = tmp_path / "take.wav"
    wavfile.write(path, RATE, (TONE[:, None] * gains).astype(np.float32))
    take = decoded(open_recording(path), tmp_path, lambda share: None)
    with take.sound, cleaned(take, Trim(0.0, 2.0), 0.0, tmp_path, lambda share: None) as clean:
        assert clean.channels == channels
        sound = clean.read(0, len(clean))[INSIDE]
    wanted = TONE[INSIDE, None] * (gains if channels == 2 else 1.0)
    assert np.abs(sound - wanted).max() < 1e-5
