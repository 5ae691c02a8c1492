"""MP3 files: coded with LAME, tagged, written whole or not at all.

Public: `write_mp3`, `write_mp3_pieces`, `TrackTags`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
import numpy.typing as npt

from reedwright.files import whole_file
from reedwright.sound.gapless import FRAME, FrameCounter, info_frame

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
    write_mp3_pieces(_slices(sound), rate, path, tags)


def _slices(sound: Array32) -> Iterator[Array32]:
    return (sound[start : start + _CHUNK] for start in range(0, len(sound), _CHUNK))


def write_mp3_pieces(pieces: Iterable[Array32], rate: int, path: Path, tags: TrackTags) -> None:
    """`write_mp3` for sound that comes in pieces of shape (frames, 2): nothing is kept of them.

    The sound as a whole gives the same bytes, whatever its pieces.
    """
    counter = FrameCounter(BIT_RATE, rate)
    coder = _coder(rate)
    samples = 0
    with whole_file(path) as temporary:
        with temporary.open("wb") as file:
            # The first frame is written last, when it is known what it has to say.
            room = len(info_frame(bytes(4), 1, 0, BIT_RATE, rate, 0))
            file.write(bytes(room))
            for chunk in _chunks(pieces):
                samples += len(chunk)
                _hand_on(bytes(coder.encode(_whole(chunk).tobytes())), file, counter)
            _hand_on(bytes(coder.flush()), file, counter)
            file.seek(0)
            first = (counter.header, counter.frames, counter.bytes)
            file.write(info_frame(*first, BIT_RATE, rate, samples))
        _tag(temporary, tags)


def _hand_on(coded: bytes, file: BinaryIO, counter: FrameCounter) -> None:
    file.write(coded)
    counter.add(coded)


def _chunks(pieces: Iterable[Array32]) -> Iterator[Array32]:
    """The same sound in chunks of `_CHUNK` frames, the last one shorter."""
    held = np.zeros((0, 2), dtype=np.float32)
    for piece in pieces:
        held = np.concatenate([held, piece])
        while len(held) >= _CHUNK:
            yield held[:_CHUNK]
            held = held[_CHUNK:]
    if len(held):
        yield held


def _whole(sound: Array32) -> npt.NDArray[np.int16]:
    """As the whole numbers that LAME takes."""
    return np.rint(np.clip(sound, -1, 1) * FULL_SCALE).astype("<i2")


def _coder(rate: int) -> Any:
    import lameenc

    coder: Any = lameenc.Encoder()
    coder.silence()
    coder.set_bit_rate(BIT_RATE // 1000)
    coder.set_in_sample_rate(rate)
    coder.set_channels(2)
    coder.set_quality(LAME_EFFORT)
    return coder


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
