"""Decoding: a recording as pieces of sound at its own rate, in time and without holes.

Public: `decoded`.

Time: a piece begins where the one before ends. What a coder put before the sound (priming)
or after it (padding) is left out, as FFmpeg's decoders do by what the file states. Where
timestamps show that sound is missing (a film begins before its sound, a stretch could not
be decoded, a camera dropped packets), silence of that length stands in for it, so that times
stay those a player shows.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from reedwright.sound.recording.frames import Frames, Piece
from reedwright.sound.recording.model import (
    Recording,
    Trouble,
    TroubleKind,
    UnreadableRecording,
)
from reedwright.sound.recording.opening import HIGHEST_RATE, LOWEST_RATE, container_of
from reedwright.sound.recording.places import place_in, stretch

if TYPE_CHECKING:
    from av.audio.frame import AudioFrame
    from av.audio.stream import AudioStream
    from av.container import InputContainer
    from av.packet import Packet

    SoundPacket = Packet[AudioStream]

SHORTEST_GAP = 0.015  # seconds: less than a packet of AMR or Opus, more than rounding makes up
SHORTEST_GAP_OF_VORBIS = 0.05  # seconds; its blocks vary, and Ogg pages have one timestamp each
UNTIMED = "mp3"  # the container whose timestamps FFmpeg counts up itself, packet by packet
LONGEST_GAP = 60.0  # seconds; a longer one is a wrong timestamp. Our own choice
LONGEST_SOUND = 24 * 3600.0  # seconds; nobody's take, so a file that never ends. Our own choice
_SILENT_PIECE = 1.0  # seconds of silence given at a time


def decoded(
    recording: Recording, trouble: Callable[[Trouble], None] | None = None
) -> Generator[Piece, None, None]:
    """The pieces of a recording, one packet's worth at a time.

    A stretch that can't be decoded is told to `trouble` and passed over. Closing the iterator
    closes the file.

    Raises `UnreadableRecording` where the file can't be opened any more, or gives no sound.
    """
    with container_of(recording.path) as (container, stream):
        yield from _Decoding(recording, container, stream, trouble).pieces()


@dataclass(slots=True)
class _Lost:
    """Packets that could not be decoded, since the last one that could."""

    start: float
    packets: int = 1


class _Decoding:
    def __init__(
        self,
        recording: Recording,
        container: InputContainer,
        stream: AudioStream,
        trouble: Callable[[Trouble], None] | None,
    ) -> None:
        self._recording = recording
        self._container = container
        self._stream = stream
        self._trouble = trouble
        self._frames_held = Frames(recording.channels)
        self._now = 0.0  # seconds taken in so far
        self._tick = None if stream.time_base is None else float(stream.time_base)
        self._zero: float | None = None  # the timestamp of time 0
        self._frame_end: float | None = None  # by timestamps, of the frame before
        self._lost: _Lost | None = None
        self._any = False
        self._last = self._stated_end()
        vorbis = recording.codec == "vorbis"
        self._shortest_gap = SHORTEST_GAP_OF_VORBIS if vorbis else SHORTEST_GAP
        self._untimed = container.format.name == UNTIMED
        self._good_packets = 0
        self._good_bytes = 0
        self._skipped = 0.0  # seconds that no timestamp shows

    def pieces(self) -> Iterator[Piece]:
        for packet in self._packets():
            for frame in self._frames(packet):
                yield from self._placed(frame)
                if self._now > LONGEST_SOUND:
                    raise UnreadableRecording(
                        f"{self._recording.path}: after {LONGEST_SOUND / 3600:.0f} hours there is "
                        "still more sound. Cut the recording into shorter ones."
                    )
        yield from self._taken()
        if not self._any:
            raise UnreadableRecording(
                f"{self._recording.path}: the file says that it holds sound "
                f"({self._recording.codec}), but none of it can be decoded: it is damaged or "
                "broken off at its start. Take another copy of it."
            )
        if self._lost is not None:
            self._tell_lost(self._now, at_end=True)

    def _packets(self) -> Iterator[SoundPacket]:
        """Packets up to the end; what breaks the reading off is told."""
        import av

        packets = self._container.demux(self._stream)
        while True:
            try:
                packet = next(packets)
            except StopIteration:
                return
            except (av.error.FFmpegError, ValueError, OSError, MemoryError):
                self._note_lost()
                return
            yield packet

    def _frames(self, packet: SoundPacket) -> list[AudioFrame]:
        import av

        try:
            frames = packet.decode()
        except (av.error.FFmpegError, ValueError, OSError, MemoryError):
            self._note_lost()
            self._skipped += self._beyond_one(packet)
            return []
        self._good_packets += 1
        self._good_bytes += packet.size
        return frames

    def _beyond_one(self, packet: SoundPacket) -> float:
        """Seconds that a bad packet of MP3 holds beyond its one: all up to the next good header
        comes as one packet, and the bytes say how many they were."""
        if not (self._untimed and self._good_packets and packet.duration and packet.time_base):
            return 0.0
        packets = round(packet.size * self._good_packets / self._good_bytes)
        return max(0, packets - 1) * float(packet.duration * packet.time_base)

    def _note_lost(self) -> None:
        if self._lost is None:
            self._lost = _Lost(self._now)
        else:
            self._lost.packets += 1

    def _placed(self, frame: AudioFrame) -> Iterator[Piece]:
        """Take a frame in, after the silence that its timestamp asks for; pieces that are full."""
        rate = frame.sample_rate
        if not LOWEST_RATE <= rate <= HIGHEST_RATE or not frame.samples:
            self._note_lost()
            return
        gap = self._gap_before(frame)
        if gap > 0 or not self._frames_held.fits(frame):
            yield from self._taken()
        if gap > 0:
            if self._any and self._lost is None:
                self._lost = _Lost(self._now)
            yield from self._silence(gap, rate)
        if self._lost is not None:
            self._tell_lost(self._now)
        self._any = True
        samples = self._without_padding(frame.samples, rate)
        full = self._frames_held.add(frame, samples)
        self._now += samples / rate
        if full:
            yield from self._taken()

    def _taken(self) -> Iterator[Piece]:
        piece = self._frames_held.take()
        if piece is not None:
            yield piece

    def _silence(self, seconds: float, rate: int) -> Iterator[Piece]:
        left = round(seconds * rate)
        self._now += left / rate
        while left:
            frames = min(left, round(_SILENT_PIECE * rate))
            yield Piece(np.zeros((frames, self._recording.channels), dtype=np.float32), rate)
            left -= frames

    def _gap_before(self, frame: AudioFrame) -> float:
        """Seconds of silence that belong before a frame, by its timestamp."""
        lasts = frame.samples / frame.sample_rate
        if frame.pts is None or self._tick is None:
            self._frame_end = None if self._frame_end is None else self._frame_end + lasts
            return self._recording.sound_starts if not self._any else 0.0
        time = frame.pts * self._tick
        before, self._frame_end = self._frame_end, time + lasts
        if self._zero is None:
            self._zero = time - self._recording.sound_starts
            return self._recording.sound_starts
        if before is None:
            return 0.0
        # Both must show it: timestamps jitter, and clocks of sound and file drift apart.
        self._zero -= self._skipped
        gap = min(time - before + self._skipped, time - self._zero - self._now)
        self._skipped = 0.0
        if gap > LONGEST_GAP:
            self._zero = time - self._now  # a wrong timestamp; time goes on from here
            self._note_lost()
            return 0.0
        return gap if gap >= self._shortest_gap else 0.0

    def _stated_end(self) -> float | None:
        """Where an MP4 says that its sound ends: the coder fills up the last packet."""
        stream = self._stream
        if "mp4" not in self._container.format.name or not stream.duration or not stream.time_base:
            return None
        return float(stream.duration * stream.time_base) + self._recording.sound_starts

    def _without_padding(self, samples: int, rate: int) -> int:
        """How much of a frame stands before the stated end, where that lies within the frame."""
        if self._last is None:
            return samples
        kept = round((self._last - self._now) * rate)
        return kept if 0 < kept < samples else samples

    def _tell_lost(self, end: float, at_end: bool = False) -> None:
        lost, self._lost = self._lost, None
        if lost is None or self._trouble is None:
            return
        start = lost.start
        if at_end:
            what = f"the recording breaks off or is damaged from {place_in(start)} on"
            do = "Copy the file again from where it was recorded; what comes before is used."
        elif end - start >= SHORTEST_GAP:
            what = f"{stretch(start, end)} is damaged or missing and stands as silence"
            do = "Copy the file again from where it was recorded, or leave that stretch out."
        else:
            what = f"at {place_in(start)} a little of the sound is damaged and was left out"
            do = "Listen there; times after it may be a moment early."
        self._trouble(Trouble(TroubleKind.DAMAGE, start, end, f"{what[0].upper()}{what[1:]}. {do}"))
