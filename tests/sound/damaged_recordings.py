"""Five hundred recordings damaged by lot, read one by one: run as a process of its own.

    python damaged_recordings.py FOLDER FIRST LAST

FOLDER holds whole recordings; the damaged file of each number (its seed) from FIRST to before
LAST is written there, read at its own or another rate, and its outcome printed: `read`,
`unreadable`, or what else came. A crash of the decoder ends this process, which its caller sees.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

from reedwright.sound.recording.blocks import blocks
from reedwright.sound.recording.model import UnreadableRecording
from reedwright.sound.recording.opening import open_recording
from reedwright.sound.recording.troubles import Watch

MOST_HEADER = 400  # bytes at the beginning in which headers are hit
LONGEST_SOUND = 600.0  # seconds that a damaged file of two seconds may give at most


def damaged(whole: list[bytes], number: int) -> tuple[bytes, int]:
    """The bytes of damaged file `number`, and which of the whole ones it comes from."""
    random = np.random.default_rng(number)
    which = number % len(whole)
    data = bytearray(whole[which])
    kind = int(random.integers(7))
    if kind == 0:  # single bits
        for place in random.integers(0, len(data), int(random.integers(1, 60))):
            data[place] ^= 1 << int(random.integers(8))
    elif kind == 1:  # cut off
        del data[int(random.integers(0, len(data))) :]
    elif kind == 2:  # spliced with another file
        other = whole[int(random.integers(len(whole)))]
        place = int(random.integers(0, len(data)))
        data[place:] = other[int(random.integers(0, len(other))) :]
    elif kind == 3:  # bytes of the header
        for place in random.integers(0, min(MOST_HEADER, len(data)), int(random.integers(1, 12))):
            data[place] = int(random.integers(256))
    elif kind == 4:  # a stretch gone, or nothing but zeros
        first = int(random.integers(0, len(data)))
        last = first + int(random.integers(1, 4000))
        data[first:last] = b"" if random.random() < 0.5 else bytes(len(data[first:last]))
    elif kind == 5:  # noise in the middle
        first = int(random.integers(0, len(data)))
        size = len(data[first : first + int(random.integers(1, 4000))])
        data[first : first + size] = random.integers(0, 256, size, dtype=np.uint8).tobytes()
    else:  # extreme numbers in the headers, and at the end, where an MP4 has its index
        place = int(random.integers(0, max(1, min(MOST_HEADER, len(data)) - 4)))
        if random.random() < 0.5:
            place = max(0, len(data) - 4 - int(random.integers(0, 1200)))
        data[place : place + 4] = [b"\xff\xff\xff\xff", b"\0\0\0\0", b"\x7f\xff\xff\xff"][
            int(random.integers(3))
        ]
    return bytes(data), which


def outcome(path: Path, rate: int | None) -> str:
    """What comes of reading it at a rate, or at its own."""
    try:
        recording = open_recording(path)
        watch = Watch(recording.rate)
        frames = 0
        for block in blocks(recording, rate, 1, watch=watch):
            if block.dtype != np.float32 or block.ndim != 2 or block.shape[1] != 1:
                return f"a block of {block.dtype}, {block.shape}"
            if not np.isfinite(block).all():
                return "numbers that are no sound"
            frames += len(block)
        if frames > LONGEST_SOUND * (rate or recording.rate):
            return f"{frames} frames"
        watch.troubles()
    except UnreadableRecording as error:
        return "unreadable" if str(path) in str(error) and "\n" not in str(error) else "no message"
    return "read"


def main() -> int:
    folder, first, last = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    names = sorted(path for path in folder.iterdir() if path.name.startswith("whole."))
    whole = [path.read_bytes() for path in names]
    for number in range(first, last):
        data, which = damaged(whole, number)
        path = folder / f"damaged-{number}{names[which].suffix}"
        path.write_bytes(data)
        start = time.monotonic()
        print(number, path.suffix, end=" ", flush=True)
        found = outcome(path, (None, 16_000)[number // len(whole) % 2])
        print(f"{time.monotonic() - start:.2f}", found, flush=True)
        path.unlink()
    return 0


if __name__ == "__main__":
    sys.exit(main())
