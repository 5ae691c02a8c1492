"""Sound kept on disk, so that an hour of it needs no memory.

The file has no name in any folder once it is open (where the system can do that), so whatever
ends the work leaves nothing behind. Public: `Spool`.
"""

from __future__ import annotations

import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType

import numpy as np
import numpy.typing as npt

from reedwright.files import not_written

Array32 = npt.NDArray[np.float32]

PIECE = 1 << 19  # frames handed out at once: 12 s, 4 MB in stereo
_BYTES = 4  # of a float32


class Spool:
    """Sound of shape (frames, channels) that is added to at its end and read anywhere.

    Several threads may read at once. Raises `files.NotWritten` where the disk is full.
    """

    def __init__(self, channels: int, folder: Path | None = None) -> None:
        self.channels = channels
        self._frames = 0
        self._folder = folder
        self._lock = threading.Lock()
        try:
            self._file = tempfile.TemporaryFile(dir=folder, prefix=".sound-")  # noqa: SIM115
        except OSError as error:
            raise not_written(folder or Path(tempfile.gettempdir()), error) from error

    def __len__(self) -> int:
        return self._frames

    def __enter__(self) -> Spool:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        self._file.close()

    def add(self, sound: Array32) -> None:
        """Put `sound`, shape (frames, channels), at the end."""
        if sound.ndim != 2 or sound.shape[1] != self.channels:
            raise ValueError(f"sound of shape {sound.shape} for {self.channels} channels")
        try:
            with self._lock:
                self._file.seek(self._frames * self.channels * _BYTES)
                self._file.write(np.ascontiguousarray(sound, dtype="<f4").tobytes())
                self._frames += len(sound)
        except OSError as error:
            raise not_written(self._folder or Path(tempfile.gettempdir()), error) from error

    def read(self, start: int, stop: int) -> Array32:
        """The frames from `start` to before `stop`, a copy; silence where there are none."""
        first, last = max(0, start), min(self._frames, stop)
        if first >= last:
            return np.zeros((max(0, stop - start), self.channels), dtype=np.float32)
        size = self.channels * _BYTES
        with self._lock:
            self._file.flush()
            self._file.seek(first * size)
            raw = self._file.read((last - first) * size)
        sound = np.frombuffer(raw, dtype="<f4").reshape(-1, self.channels).astype(np.float32)
        if first == start and last == stop:
            return sound
        return np.pad(sound, ((first - start, stop - last), (0, 0)))

    def pieces(self, frames: int = PIECE) -> Iterator[tuple[int, int]]:
        """Bounds of consecutive pieces, each at most `frames` long."""
        for start in range(0, self._frames, frames):
            yield start, min(start + frames, self._frames)
