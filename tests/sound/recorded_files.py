"""Files such as phones and recorders make, made by FFmpeg's command for the tests."""

from __future__ import annotations

import subprocess
from pathlib import Path

import numpy as np
from soundfont_takes import RATE, Played, Sound, sounded, write_wav

_STEPS = (0, 2, 4, 7, 9, 7, 4, 2, 0, 4)


def short_take(seconds: float = 3.0) -> Sound:
    """A few notes of a soundfont's harmonica, from the first tenth of a second on."""
    notes = [
        Played(0.1 + 0.25 * k, 0.32 + 0.25 * k, 67.0 + _STEPS[k % len(_STEPS)])
        for k in range(int(seconds / 0.25))
    ]
    return sounded(notes).sound[: int(seconds * RATE)]


def coded(wav: Path, name: str, *options: str, film: float | None = None) -> Path:
    """The sound of `wav` in another file beside it. With `film`, a film that begins so many
    seconds before its sound."""
    made = wav.with_name(name)
    pictures = []
    if film is not None:
        pictures = ["-f", "lavfi", "-i", "testsrc=size=32x32:rate=10:duration=4"]
        pictures += ["-itsoffset", str(film)]
    command = ["ffmpeg", "-v", "error", "-y", *pictures, "-i", str(wav), *options, str(made)]
    subprocess.run(command, check=True)
    return made


def decoded_by_ffmpeg(path: Path, channels: int = 1) -> Sound:
    """FFmpeg's own command's reading, of shape (frames, channels)."""
    command = ["ffmpeg", "-v", "error", "-i", str(path), "-map", "0:a:0", "-f", "f32le", "-"]
    done = subprocess.run(command, check=True, capture_output=True)
    return np.frombuffer(done.stdout, dtype="<f4").reshape(-1, channels)


def wav_of(folder: Path, sound: Sound, name: str = "take.wav") -> Path:
    return write_wav(folder / name, sound)
