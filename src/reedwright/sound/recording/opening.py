"""Opening a recording: is there sound in the file, and what kind.

Public: `open_recording`. Within the room: `container_of`, which opens the file for decoding.

Files are read by FFmpeg's libraries (PyAV). Only the containers named here are let in: others
(playlists, subtitles, pictures, text art) either hold no sound or may send the reader to other
files. The list is of FFmpeg's names.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.sound.recording.model import Recording, UnreadableRecording

if TYPE_CHECKING:
    from av.audio.stream import AudioStream
    from av.container import InputContainer

CONTAINERS = (
    "wav,w64,flac,mp3,ogg,mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,aac,amr,aiff,caf,avi,mpegts,"
    "mpeg,flv,asf,au,ape,wv,tta,loas,ac3,eac3,adts"
)
_OPTIONS = {"protocol_whitelist": "file", "format_whitelist": CONTAINERS}
_STATES_NO_DURATION = ("mp3", "aac", "amr", "loas", "mpeg", "mpegts", "ac3", "eac3")
"""Containers whose duration FFmpeg guesses from the bit rate; an MP3 that states it is believed."""
FEWEST_BITS = 1_000  # a second; no codec of sound we know needs less, so longer is a wrong header
LOWEST_RATE, HIGHEST_RATE = 4_000, 768_000  # samples a second
MOST_CHANNELS = 64
_NAMES_TOLD = "wav, flac, mp3, ogg, m4a, mp4, mov, webm or 3gp"


def open_recording(path: Path) -> Recording:
    """Look over a file of sound, or of film with sound; its first audio stream is meant.

    Raises `UnreadableRecording` for whatever is no sound or can't be opened.
    """
    with container_of(path) as (container, stream):
        if not LOWEST_RATE <= stream.rate <= HIGHEST_RATE or not (
            1 <= stream.channels <= MOST_CHANNELS
        ):
            raise UnreadableRecording(
                f"{path}: its beginning says {stream.rate} samples a second and "
                f"{stream.channels} channels, which can't be right: the file is damaged. "
                "Take another copy of it."
            )
        seconds = _stated_seconds(container, stream, path)
        starts = _sound_starts(container, stream)
        rate, channels, codec = stream.rate, stream.channels, stream.codec_context.name
        counted = seconds is None
        if seconds is None:
            seconds = _counted_seconds(container, stream)
    return Recording(path, rate, channels, seconds + starts, codec, counted, starts)


@contextmanager
def container_of(path: Path) -> Iterator[tuple[InputContainer, AudioStream]]:
    """The file opened by FFmpeg and its first audio stream, closed again at the end.

    Raises `UnreadableRecording`.
    """
    import av

    _check_file(path)
    try:
        container = av.open(f"file:{path.absolute()}", options=_OPTIONS)
    except av.error.PermissionError:
        raise UnreadableRecording(_closed_to_us(path)) from None
    except (av.error.FFmpegError, ValueError, OSError, OverflowError, MemoryError):
        raise UnreadableRecording(
            f"{path}: this is no recording that can be read, or its beginning is damaged. "
            f"Give a file of sound or film: {_NAMES_TOLD}."
        ) from None
    with container:
        streams = container.streams.audio
        if not streams:
            held = "a film or pictures without sound" if container.streams.video else "no sound"
            raise UnreadableRecording(
                f"{path}: the file holds {held}. Give a recording with sound."
            )
        stream = streams[0]
        if stream.codec_context is None:
            raise UnreadableRecording(
                f"{path}: its sound is in a code that can't be read here. "
                "Turn it into wav or m4a and give that."
            )
        # Decoders say so where a checksum fails, in place of noise.
        stream.codec_context.options = {"err_detect": "crccheck+explode"}
        yield container, stream


def _check_file(path: Path) -> None:
    """Raise `UnreadableRecording` for what the system already knows to be no recording."""
    try:
        if path.is_dir():
            raise UnreadableRecording(f"{path} is a folder. Give one of the recordings in it.")
        if not path.exists():
            raise UnreadableRecording(
                f"{path}: there is no such file. Check the name and the folder."
            )
        if not path.is_file():
            raise UnreadableRecording(f"{path}: this is no ordinary file. Give a recording.")
        with path.open("rb") as file:
            beginning = file.read(1)
    except PermissionError:
        raise UnreadableRecording(_closed_to_us(path)) from None
    except (OSError, ValueError) as error:
        raise UnreadableRecording(f"{path}: this file can't be read ({error}).") from None
    if not beginning:
        raise UnreadableRecording(
            f"{path}: this file is empty (0 bytes). Copy it again from where it was recorded."
        )


def _closed_to_us(path: Path) -> str:
    return (
        f"{path}: you have no permission to read this file. "
        "Change its permissions, or copy it to a folder of your own."
    )


def _stated_seconds(container: InputContainer, stream: AudioStream, path: Path) -> float | None:
    """How long the sound is by the file's own words; None where they can't be trusted."""
    name = container.format.name
    stated: float | None = None
    if stream.duration is not None and stream.time_base is not None:
        stated = float(stream.duration * stream.time_base)
    elif container.duration is not None:
        stated = container.duration / 1_000_000  # FFmpeg's AV_TIME_BASE
        stated -= _sound_starts(container, stream)
    if stated is None or stated <= 0 or stated * FEWEST_BITS > 8 * path.stat().st_size:
        return None
    guessed = any(each in name.split(",") for each in _STATES_NO_DURATION)
    if name == "mp3" and _states_frames(path):
        guessed = False
    return None if guessed else stated


def _states_frames(path: Path) -> bool:
    """Whether an MP3 has the frame that says how many follow ("Xing", or "Info" from LAME)."""
    with path.open("rb") as file:
        beginning = file.read(10)
        if beginning.startswith(b"ID3"):  # ID3v2, section 3.1: 28 bits in four bytes
            skipped = 0
            for byte in beginning[6:10]:
                skipped = skipped << 7 | byte & 0x7F
            file.seek(10 + skipped)
        else:
            file.seek(0)
        first = file.read(200)
    return b"Xing" in first or b"Info" in first


def _sound_starts(container: InputContainer, stream: AudioStream) -> float:
    """Seconds from the start of the film to the start of its sound."""
    from av.stream import Disposition

    begins = stream.start_time
    if begins is None or stream.time_base is None:
        return 0.0
    films = [
        float(video.start_time * video.time_base)
        for video in container.streams.video
        if video.start_time is not None
        and video.time_base is not None
        and not video.disposition & Disposition.attached_pic  # a cover is no film
    ]
    later = float(begins * stream.time_base) - min(films) if films else 0.0
    return later if 0 < later <= LONGEST_WAIT else 0.0


LONGEST_WAIT = 600.0
"""Seconds before the sound of a film begins; more is a wrong timestamp. Our own choice."""


def _counted_seconds(container: InputContainer, stream: AudioStream) -> float:
    """How long the packets last together, without decoding them."""
    import av

    ticks, bytes_read = 0, 0
    try:
        for packet in container.demux(stream):
            ticks += packet.duration or 0
            bytes_read += packet.size
    except (av.error.FFmpegError, ValueError, OSError):
        pass  # what comes before the damage counts
    return float(ticks * stream.time_base) if stream.time_base else 0.0
