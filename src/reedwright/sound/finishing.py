"""A finished track from sound on disk: levelled, coded, and its peaks looked at again after coding.

Public: `write_track`, `coded_levels`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import numpy.typing as npt

from reedwright.sound.levelling import level
from reedwright.sound.loudness import (
    CEILING_DBTP,
    SILENCE_LUFS,
    TARGET_LUFS,
    Levels,
    LoudnessMeter,
    peak_within,
)
from reedwright.sound.mp3 import TrackTags, write_mp3_pieces
from reedwright.sound.spool import Spool

Array32 = npt.NDArray[np.float32]

HIGHEST_DBTP = -1.0  # after coding
_ROUNDS = 4
_NEAR_ENOUGH = 0.1  # LU
_MARGIN = 2048  # frames heard around what is measured


def write_track(
    sound: Spool,
    rate: int,
    path: Path,
    tags: TrackTags,
    check: Callable[[], None] = lambda: None,
) -> Levels:
    """Write an MP3 at -16 LUFS whose true peak, decoded, stays under -1 dBTP; its levels.

    They are measured on the decoded file: coding takes the highest treble, so a hissing
    recording loses some loudness by it, and moves peaks. What four rounds of correcting do not
    reach is left as near as it came. `check` is called often; an exception from it ends the
    work. Raises `files.NotWritten` where the file cannot be written.
    """
    target, ceiling = TARGET_LUFS, CEILING_DBTP
    for _ in range(_ROUNDS):
        found = level(sound, rate, target, ceiling, check)
        write_mp3_pieces(_checked(found.pieces(sound, rate), check), rate, path, tags)
        coded = coded_levels(path, check)
        off = TARGET_LUFS - coded.loudness
        if coded.peak < HIGHEST_DBTP and (
            abs(off) <= _NEAR_ENOUGH or coded.loudness <= SILENCE_LUFS
        ):
            break
        target += off
        ceiling -= max(0.0, coded.peak - HIGHEST_DBTP + 0.2)
    return coded


def _checked(pieces: Iterator[Array32], check: Callable[[], None]) -> Iterator[Array32]:
    for piece in pieces:
        check()
        yield piece


def coded_levels(path: Path, check: Callable[[], None] = lambda: None) -> Levels:
    """Loudness and true peak of a sound file as it is decoded. `check` as in `write_track`."""
    from reedwright.sound.recording.blocks import blocks
    from reedwright.sound.recording.opening import open_recording

    recording = open_recording(path)
    meter = LoudnessMeter(recording.rate)
    highest = 0.0
    before = np.zeros((_MARGIN, recording.channels), dtype=np.float32)
    for block in blocks(recording):
        check()
        meter.add(block)
        known = np.concatenate([before, block])
        # The last frames wait for those that follow them.
        highest = peak_within(
            known, min(_MARGIN // 2, len(known)), len(known) - _MARGIN // 2, highest
        )
        before = known[-_MARGIN:]
    ending = np.pad(before, ((0, _MARGIN), (0, 0)))
    highest = peak_within(ending, _MARGIN // 2, _MARGIN, highest)
    return Levels(meter.loudness(), 20 * float(np.log10(highest)) if highest else -np.inf)
