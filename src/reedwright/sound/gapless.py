"""The first frame of an MP3 file, which says how much silence the coder put around the sound.

A coder delays the sound and fills up the last frame. Decoders that read this frame cut both
off, so that the track has its own length and starts in its own place, and loops have no gap.

Layout: the Xing/Info frame with LAME's extension ("Mp3 Info Tag, revision 1"; from memory,
confirmed by FFmpeg's decoder in the tests). Public: `info_frame`, `FrameCounter`.
"""

from __future__ import annotations

FRAME = 1152  # samples in a frame of MPEG-1 layer III
CODER_DELAY = 576  # samples; LAME's. A decoder adds 529 of its own and knows it
_HEADER = 4  # bytes
_SIDE_INFORMATION = 32  # bytes in a frame of two channels
_PADDING_BIT = 0x02  # in the third byte of a header: the frame is a byte longer
_ALL_FIELDS = 0x0F  # frames, bytes, table of contents and quality are stated
_CONSTANT_RATE = 0x01  # revision 0, method 1
_CODER = b"LAME3.100"


class FrameCounter:
    """Counts frames and bytes of a stream of constant `bit_rate` that comes piece by piece.

    `header` is that of its first frame.
    """

    def __init__(self, bit_rate: int, rate: int) -> None:
        self._shortest = _frame_bytes(bit_rate, rate)
        self._next = 0  # where the next frame begins
        self._held = b""  # the last bytes heard, where a header may begin
        self.bytes = self.frames = 0
        self.header = b""

    def add(self, coded: bytes) -> None:
        known = self._held + coded
        start = self.bytes - len(self._held)
        self.bytes += len(coded)
        while self._next + _HEADER <= self.bytes:
            header = known[self._next - start :][:_HEADER]
            self.header = self.header or header
            self._next += self._shortest + (1 if header[2] & _PADDING_BIT else 0)
            self.frames += 1
        self._held = known[max(0, min(self._next - start, len(known))) :]


def info_frame(
    header: bytes, frames: int, size: int, bit_rate: int, rate: int, samples: int
) -> bytes:
    """The frame to stand before a coded stream of constant `bit_rate` of two channels.

    `header` begins the stream's first frame, `frames` are counted, `size` is in bytes.
    `samples`: how many samples a channel were handed to the coder.
    """
    filled = frames * FRAME - CODER_DELAY - samples
    length = _frame_bytes(bit_rate, rate)
    first = bytes((header[0], header[1], header[2] & ~_PADDING_BIT, header[3]))
    content = b"".join(
        (
            first,
            bytes(_SIDE_INFORMATION),
            b"Info",
            _ALL_FIELDS.to_bytes(4, "big"),
            frames.to_bytes(4, "big"),
            (length + size).to_bytes(4, "big"),
            bytes(256 * percent // 100 for percent in range(100)),  # evenly, at a constant rate
            bytes(4),  # quality: not stated
            _CODER,
            bytes((_CONSTANT_RATE,)),
            bytes(1 + 4 + 2 + 2 + 1),  # low-pass, peak, gains, flags: not stated
            bytes((min(bit_rate // 1000, 255),)),
            (CODER_DELAY << 12 | filled).to_bytes(3, "big"),
            bytes(1 + 1 + 2),  # misc, gain, preset: not stated
            (length + size).to_bytes(4, "big"),
            bytes(2),  # checksum of the sound: not stated, no decoder asks for it
        )
    )
    content += _crc16(content).to_bytes(2, "big")
    return content.ljust(length, b"\0")


def _frame_bytes(bit_rate: int, rate: int) -> int:
    """Bytes of a frame without the padding byte."""
    return FRAME // 8 * bit_rate // rate


def _crc16(data: bytes) -> int:
    """CRC-16/ARC: polynomial 0x8005 reflected, from 0."""
    crc = 0
    for byte in data:
        crc = crc >> 8 ^ _CRC_TABLE[(crc ^ byte) & 0xFF]
    return crc


def _crc_of_byte(byte: int) -> int:
    for _ in range(8):
        byte = byte >> 1 ^ (0xA001 if byte & 1 else 0)
    return byte


_CRC_TABLE = tuple(_crc_of_byte(byte) for byte in range(256))
