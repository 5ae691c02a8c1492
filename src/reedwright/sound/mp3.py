"""MP3 files: coded with LAME through PyAV, tagged, written whole or not at all.

Public: `write_mp3`, `TrackTags`.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from reedwright.files import whole_file

Array32 = npt.NDArray[np.float32]

# Constant bit rate. Measured on the demo reel (docs/sound.md): variable rate at quality V2
# takes a reed's overtones for inaudible and drops all above 4 kHz; 192 kbit/s keeps them.
BIT_RATE = 192_000
# At constant rates LAME turns the sound down by a table of its own; at this rate by so much
# (measured: decoded against handed over). Undone here, so that loudness is what was set.
LAME_SCALE = 0.97
# LAME's 0 (slowest) to 9. At this rate 7 leaves no more residue than 5, in less time.
LAME_EFFORT = "7"
FRAME = 1152  # samples in one MP3 frame
_CHUNK = FRAME * 64  # frames handed over at once, whole MP3 frames


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

    The file states the coder's delay and padding (LAME's gapless header), so that a
    decoder that reads it gives back every sample in its place, and as many as there were
    if their number is a whole number of MP3 frames, which `plan` sees to. (A last MP3
    frame of under 48 samples cannot be stated: such sound decodes up to 47 longer.) Raises
    `files.NotWritten` where the file cannot be written.
    """
    with whole_file(path) as temporary:
        _encode(sound, rate, temporary)
        _tag(temporary, tags)


def _encode(sound: Array32, rate: int, path: Path) -> None:
    import av

    planes = np.ascontiguousarray(sound.T, dtype=np.float32) / np.float32(LAME_SCALE)
    # No tags of FFmpeg's own: its version would be in them.
    with av.open(str(path), "w", format="mp3", options={"id3v2_version": "0"}) as container:
        stream: Any = container.add_stream(
            "libmp3lame", rate=rate, options={"compression_level": LAME_EFFORT}
        )
        stream.codec_context.layout = "stereo"
        stream.codec_context.format = "fltp"
        stream.bit_rate = BIT_RATE
        for start in range(0, planes.shape[1], _CHUNK):
            part = np.ascontiguousarray(planes[:, start : start + _CHUNK])
            frame = av.AudioFrame.from_ndarray(part, format="fltp", layout="stereo")
            frame.sample_rate = rate
            frame.pts = start
            for packet in stream.encode(frame):
                container.mux(packet)
        for packet in stream.encode(None):
            container.mux(packet)


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
