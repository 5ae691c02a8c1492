"""The sound of a recording in blocks: any rate, any number of channels, bounded memory.

Public: `blocks`, `whole`.

Rates are changed by FFmpeg's resampler with a filter of 64 taps and its pass band up to 0.95
of the lower rate's half: flat within 0.3 dB to 0.9 of it; what lies 5 % above it and more
comes back at -92 dB or less (measured in the tests).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from reedwright.sound.hearing.model import Array32
from reedwright.sound.recording.decoding import decoded
from reedwright.sound.recording.frames import Piece
from reedwright.sound.recording.model import Recording, Trouble

if TYPE_CHECKING:
    from reedwright.sound.recording.troubles import Watch

RESAMPLING = {"filter_size": "64", "cutoff": "0.95"}


def blocks(
    recording: Recording,
    rate: int | None = None,
    channels: int | None = None,
    seconds: float = 5.0,
    *,
    trouble: Callable[[Trouble], None] | None = None,
    watch: Watch | None = None,
    start: float = 0.0,
    end: float | None = None,
) -> Iterator[Array32]:
    """The sound from `start` to `end` (seconds) in blocks of `seconds`, float32, full scale at 1.

    Blocks have the shape (frames, channels), the last one may be shorter. `rate` and
    `channels` are the recording's own unless given. Fewer channels than there are are each the
    mean of all, for any of them may be the only one that sounds; where there are not enough the
    last is copied. Stretches that can't be decoded are told to `trouble`. `watch` is shown the
    sound as it was recorded, before any change, and told of the damage: so one reading serves
    for both. Closing the iterator closes the file.

    Raises `UnreadableRecording`.
    """

    def tell(found: Trouble) -> None:
        if watch is not None:
            watch.note(found)
        if trouble is not None:
            trouble(found)

    wanted_rate = rate or recording.rate
    wanted_channels = channels or recording.channels
    pieces = decoded(recording, tell)
    try:
        changed = _changed(pieces, wanted_rate, wanted_channels, watch)
        last = None if end is None else round(end * wanted_rate)
        cut = _between(changed, round(start * wanted_rate), last)
        yield from _gathered(cut, max(1, round(seconds * wanted_rate)))
    finally:
        pieces.close()


def whole(
    recording: Recording,
    rate: int | None = None,
    channels: int | None = None,
    *,
    trouble: Callable[[Trouble], None] | None = None,
    watch: Watch | None = None,
    start: float = 0.0,
    end: float | None = None,
) -> Array32:
    """All of it at once, of shape (frames, channels). An hour in stereo takes 1.4 GB.

    Raises `UnreadableRecording`.
    """
    read = blocks(recording, rate, channels, trouble=trouble, watch=watch, start=start, end=end)
    found = list(read)
    if not found:
        return np.zeros((0, channels or recording.channels), dtype=np.float32)
    return np.concatenate(found)


def _changed(
    pieces: Iterator[Piece], rate: int, channels: int, watch: Watch | None
) -> Iterator[Array32]:
    """Pieces of the wanted rate and channels."""
    resampler: _Resampler | None = None
    for sound, given in pieces:
        if watch is not None:
            watch.add(sound, given)
        mixed = _mixed(sound, channels)
        if resampler is not None and resampler.given != given:
            yield resampler.rest()
            resampler = None
        if given == rate:
            yield mixed
            continue
        if resampler is None:
            resampler = _Resampler(given, rate, channels)
        yield resampler.add(mixed)
    if resampler is not None:
        yield resampler.rest()


def _mixed(sound: Array32, channels: int) -> Array32:
    given = sound.shape[1]
    if given == channels:
        return sound
    if channels < given:
        # A product with ones: NumPy's mean over a short last axis is far slower.
        mean: Array32 = sound @ np.full((given, 1), 1 / given, dtype=np.float32)
        return np.repeat(mean, channels, axis=1)
    return sound[:, np.minimum(np.arange(channels), given - 1)]


class _Resampler:
    """Changes the rate of a stream of pieces; the first sample stays where it is."""

    def __init__(self, given: int, wanted: int, channels: int) -> None:
        import av

        self.given = given
        self._channels = channels
        self._layout = {1: "mono", 2: "stereo"}.get(channels, f"{channels}c")
        self._resampler = av.AudioResampler(
            format="fltp", layout=self._layout, rate=wanted, options=dict(RESAMPLING)
        )
        self._taken = 0

    def add(self, sound: Array32) -> Array32:
        import av

        frame = av.AudioFrame.from_ndarray(
            np.ascontiguousarray(sound.T), format="fltp", layout=self._layout
        )
        frame.sample_rate = self.given
        frame.time_base = Fraction(1, self.given)
        frame.pts = self._taken
        self._taken += len(sound)
        return self._joined(self._resampler.resample(frame))

    def rest(self) -> Array32:
        """What the filter still holds."""
        return self._joined(self._resampler.resample(None)) if self._taken else self._joined([])

    def _joined(self, frames: list[object]) -> Array32:
        arrays = [frame.to_ndarray().T for frame in frames]  # type: ignore[attr-defined]
        if not arrays:
            return np.zeros((0, self._channels), dtype=np.float32)
        joined: Array32 = np.concatenate(arrays)
        return joined


def _between(pieces: Iterator[Array32], first: int, last: int | None) -> Iterator[Array32]:
    """Frames from `first` to before `last`; stops reading there."""
    place = 0
    for piece in pieces:
        low = max(0, first - place)
        high = len(piece) if last is None else min(len(piece), last - place)
        if high > low:
            yield piece[low:high]
        place += len(piece)
        if last is not None and place >= last:
            return


def _gathered(pieces: Iterator[Array32], frames: int) -> Iterator[Array32]:
    """Pieces joined and cut to blocks of so many frames."""
    waiting: list[Array32] = []
    held = 0
    for piece in pieces:
        waiting.append(piece)
        held += len(piece)
        while held >= frames:
            joined = np.concatenate(waiting) if len(waiting) > 1 else waiting[0]
            yield joined[:frames].copy()
            waiting = [joined[frames:]]
            held = len(waiting[0])
    if held:
        yield np.concatenate(waiting)
