"""MP3 files: coded with LAME, tagged, written whole or not at all.

Public: `write_mp3`, `TrackTags`.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from reedwright.files import whole_file
from reedwright.sound.gapless import FRAME, info_frame

Array32 = npt.NDArray[np.float32]

# Constant bit rate. Measured on the demo reel (docs/sound.md): variable rate takes a reed's
# overtones for inaudible and drops all above 4 kHz, 256 kbit/s keeps them.
BIT_RATE = 256_000
# LAME's 0 (slowest) to 9. At this rate 7 leaves no more residue than 5, in half the time.
LAME_EFFORT = 7
FULL_SCALE = 32767  # of the 16-bit samples that LAME takes
_CHUNK = FRAME * 256  # frames handed over at once; LAME lets other threads run meanwhile


@dataclass(frozen=True, slots=True)
class TrackTags:
    """What a player shows. Empty texts are left out; `language` is ISO 639-2."""

    title: str
    artist: str = ""
    album: str = ""
    track: int = 0
    tracks: int = 0
    comment: str = ""
    composer: str = ""
    genre: str = ""
    language: str = "eng"


def write_mp3(sound: Array32, rate: int, path: Path, tags: TrackTags) -> None:
    """Write `sound`, shape (frames, 2), as MP3; the same input gives the same bytes.

    The file states the coder's delay and padding (`gapless.py`), so that a decoder that
    reads it gives back every sample in its place, and as many as there were. Raises
    `files.NotWritten` where the file cannot be written.
    """
    with whole_file(path) as temporary:
        coded = _coded(sound, rate)
        temporary.write_bytes(info_frame(coded, BIT_RATE, rate, len(sound)) + coded)
        _tag(temporary, tags)


def _coded(sound: Array32, rate: int) -> bytes:
    import lameenc

    coder: Any = lameenc.Encoder()
    coder.silence()
    coder.set_bit_rate(BIT_RATE // 1000)
    coder.set_in_sample_rate(rate)
    coder.set_channels(2)
    coder.set_quality(LAME_EFFORT)
    whole = np.rint(np.clip(sound, -1, 1) * FULL_SCALE).astype("<i2")
    parts = [coder.encode(whole[k : k + _CHUNK].tobytes()) for k in range(0, len(whole), _CHUNK)]
    return b"".join([*map(bytes, parts), bytes(coder.flush())])


def _tag(path: Path, tags: TrackTags) -> None:
    from mutagen import id3

    frames = id3.ID3()
    texts = {
        id3.TIT2: tags.title,
        id3.TPE1: tags.artist,
        id3.TALB: tags.album,
        id3.TCOM: tags.composer,
        id3.TCON: tags.genre,
        id3.TLAN: tags.language,
        id3.TRCK: _number(tags),
    }
    for frame, text in texts.items():
        if text:
            frames.add(frame(encoding=id3.Encoding.UTF16, text=text))
    if tags.comment:
        frames.add(
            id3.COMM(encoding=id3.Encoding.UTF16, lang=tags.language, desc="", text=tags.comment)
        )
    # ID3v2.3, which every player reads; no padding and no ID3v1, which cuts texts short.
    frames.save(path, v1=0, v2_version=3, padding=lambda info: 0)


def _number(tags: TrackTags) -> str:
    if not tags.track:
        return ""
    return f"{tags.track}/{tags.tracks}" if tags.tracks else str(tags.track)
