"""A take's sound in a form that every browser plays: one channel of 16 bits.

It is made when it is first asked for and lies beside what was heard; it may be deleted at any time.

Public: `plain_sound`.
"""

from __future__ import annotations

import os
import tempfile
import wave
from pathlib import Path

import numpy as np

from reedwright.errors import ReedwrightError
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.sound.recording.blocks import blocks
from reedwright.sound.recording.opening import open_recording
from reedwright.web.sound_sent import named
from reedwright.web.takes.hearing import FOLDER
from reedwright.web.takes.kept import TakeKept

RATE = 44_100  # samples a second
_FULL = 32767  # of 16 bits


def plain_sound(shelf: Shelf, take: TakeKept) -> Path:
    """The file. Raises `UnreadableRecording`, with the user's name for the recording."""
    folder = shelf.folder / FOLDER
    place = folder / f"{take.item.state.attachment}.wav"
    if place.is_file():
        return place
    folder.mkdir(exist_ok=True)
    handle, passing = tempfile.mkstemp(prefix=".", suffix=".wav", dir=folder)
    os.close(handle)
    try:
        _decode(take.path, Path(passing))
        Path(passing).replace(place)  # whole, also where two ask at once
    except ReedwrightError as error:
        raise ReedwrightError(named(str(error), take.path, take.file)) from None
    finally:
        Path(passing).unlink(missing_ok=True)
    return place


def _decode(recording: Path, out: Path) -> None:
    with wave.open(str(out), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        for block in blocks(open_recording(recording), RATE, 1):
            samples = np.clip(np.round(block[:, 0] * _FULL), -_FULL, _FULL)
            file.writeframes(samples.astype("<i2").tobytes())
