"""Reeds listened to, block by block or from a file.

Public: `ReedListener`, `LiveTone`, `listen_to_reeds`, `NoReedHeard`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np

from reedwright.errors import ReedwrightError
from reedwright.sound.recording.model import Trouble
from reedwright.workshop.measuring.finding import Finder, Held
from reedwright.workshop.measuring.frames import HOP, Frames
from reedwright.workshop.measuring.model import Beats, Tone
from reedwright.workshop.measuring.partials import Array32
from reedwright.workshop.measuring.tones import Candidate, tones_in

Progress = Callable[[float, str], None]  # the share done, and what is being done

WANTED_RATE = 22_050  # samples a second: two partials of the highest reed lie under half of it
LEAST_RATE = 16_000
_BATCH = 10  # looks taken together: the same however blocks are cut
_MARGIN = 0.15  # seconds of sound before and after a stretch that it is measured with
_HIGH_PASS = 45.0  # Hz, second order: steps and handling, and what is no sound at all
_SAME_TONE = 60.0  # cents
_LONGEST = 20.0  # seconds of sound that are measured in one go
_LIVE = 1.5  # seconds of sound that say what sounds now
_LEAST_LIVE = 0.12


class NoReedHeard(ReedwrightError):
    """A recording that can be read, but in which no reed is held."""


class LiveTone(NamedTuple):
    """What sounds at this moment: as in `Tone`, from as much as was heard of it so far."""

    hz: float
    uncertainty: float
    level: float
    seconds: float
    upper_hz: float = 0.0
    upper_uncertainty: float = 0.0
    beats: Beats | None = None


class ReedListener:
    """Takes blocks of one channel at `rate` samples a second, of whatever lengths.

    The answer does not depend on how the sound is cut into blocks. It holds about the sound of
    the tone that is being played, 40 s at most. Raises `ReedwrightError` for a rate under
    `LEAST_RATE`.
    """

    def __init__(self, rate: int) -> None:
        if rate < LEAST_RATE:
            raise ReedwrightError(
                f"Sound of {rate} samples a second is too coarse to measure reeds in: "
                f"bring it to {LEAST_RATE} or more."
            )
        self.rate = rate
        self._frames = Frames(rate)
        self._finder = Finder()
        self._look = 0  # the look that comes next
        # Silence before the beginning, so that the first looks are whole.
        self._origin = -self._frames.size
        self._parts: list[Array32] = [np.zeros(self._frames.size, dtype=np.float32)]
        self._held = self._frames.size  # samples in `_parts`
        self._waiting: list[tuple[Held, int]] = []
        self._last: Tone | None = None  # measured, but the next stretch may be more of it
        self._last_held: Held | None = None
        self._filter = _HighPass(rate)

    @property
    def seconds(self) -> float:
        """How much was listened to."""
        return max(0.0, (self._origin + self._held) / self.rate)

    @property
    def kept(self) -> int:
        """How many samples are held in memory."""
        return self._held

    def feed(self, block: Array32) -> tuple[Tone, ...]:
        """Take in a block of shape (frames,); tones that are complete now.

        What is not a number counts as silence.
        """
        sound = np.nan_to_num(np.asarray(block, dtype=np.float32), posinf=0.0, neginf=0.0)
        if not len(sound):
            return ()
        self._parts.append(self._filter.without(sound))
        self._held += len(sound)
        return tuple(self._looked())

    def finish(self) -> tuple[Tone, ...]:
        """The tones that were still open. Nothing may be fed after it."""
        self._parts.append(np.zeros(self._frames.size + self._frames.middle(_BATCH), np.float32))
        end = self._origin + self._held
        self._held += len(self._parts[-1])
        found = self._looked()
        for held in [*(each for each, _ in self._waiting), *self._finder.finish()]:
            last = min(held.last, int(end / self.rate / HOP) + 1)
            found += self._measured(held._replace(last=max(held.first, last)))
        self._waiting = []
        return (*found, *self._released())

    def now(self) -> LiveTone | None:
        """What sounds at this moment; None where nothing is held, or too briefly to say."""
        first = self._finder.open_from
        if first is None:
            return None
        end = self._look * HOP
        begin = max(first * HOP, end - _LIVE)
        if end - begin < _LEAST_LIVE:
            return None
        tones = tones_in(self._candidate(begin, end, False, True))
        if not tones:
            return None
        tone = tones[-1]
        return LiveTone(
            tone.hz,
            tone.uncertainty,
            tone.level,
            end - first * HOP,
            tone.upper_hz,
            tone.upper_uncertainty,
            tone.beats,
        )

    def _looked(self) -> list[Tone]:
        """Look at what has come in, batch by batch; measure what is complete."""
        found: list[Tone] = []
        size = self._frames.size
        while True:
            last = self._frames.middle(self._look + _BATCH - 1) + size // 2
            if self._origin + self._held < last:
                return found
            first = self._frames.middle(self._look) - size // 2
            sound = self._sound(first, last)
            starts = [
                self._frames.middle(self._look + k) - size // 2 - first for k in range(_BATCH)
            ]
            frames = np.stack([sound[start : start + size] for start in starts])
            self._waiting += [
                (held, self._frames.middle(held.last) + round(_MARGIN * self.rate))
                for held in self._finder.add(self._frames.looks(frames))
            ]
            self._look += _BATCH
            # A stretch is measured when the sound around it has been looked at, which is so at
            # the same place however blocks are cut.
            looked = self._frames.middle(self._look)
            while self._waiting and self._waiting[0][1] <= looked:
                found += self._measured(self._waiting.pop(0)[0])
            if self._finder.open_from is None and not self._waiting:
                found += self._released()
            self._forget()

    def _measured(self, held: Held) -> list[Tone]:
        """Measure a stretch; the tones that can be given out."""
        tones = self._tones(held)
        found: list[Tone] = []
        before = self._last_held
        if tones and before is not None and self._last and _same(self._last, tones[0]):
            # The cut between them was no change of reed: both are one stretch.
            whole = before._replace(last=held.last, joined_after=held.joined_after)
            if (whole.last - whole.first) * HOP <= _LONGEST:
                again = self._tones(whole)
                if len(again) == len(tones):
                    tones, held = again, whole
                    self._last = None
            if self._last is not None:
                tones[0] = _joined(self._last, tones[0])
                self._last = None
        for tone in tones:
            begun = tone
            if self._last is not None and self._last.end > tone.start:
                # They join: the change lies where one sinks and the other rises.
                middle = (self._last.end + tone.start) / 2
                self._last = replace(self._last, end=middle)
                begun = replace(tone, start=middle)
            found += self._released()
            self._last = begun
        self._last_held = held
        if not tones or not held.joined_after:
            found += self._released()
        return found

    def _tones(self, held: Held) -> list[Tone]:
        begin, end = held.first * HOP, held.last * HOP
        return tones_in(self._candidate(begin, end, held.joined_before, held.joined_after))

    def _released(self) -> list[Tone]:
        last, self._last, self._last_held = self._last, None, None
        return [] if last is None else [last]

    def _candidate(self, begin: float, end: float, before: bool, after: bool) -> Candidate:
        first = round((begin - _MARGIN) * self.rate)
        sound = self._sound(first, round((end + _MARGIN) * self.rate)).astype(np.float64)
        begins = first / self.rate
        return Candidate(sound, self.rate, begins, begin - begins, end - begins, before, after)

    def _sound(self, first: int, last: int) -> Array32:
        """Samples `first` to before `last`, silence where there are none."""
        if len(self._parts) > 1:
            self._parts = [np.concatenate(self._parts)]
        whole = self._parts[0]
        low, high = first - self._origin, last - self._origin
        part = whole[max(0, low) : max(0, high)]
        return np.pad(part, (max(0, -low), last - first - max(0, -low) - len(part)))

    def _forget(self) -> None:
        """Let go of sound that nothing will ask for."""
        asked = [held.first for held, _ in self._waiting]
        if self._last_held is not None:
            asked.append(self._last_held.first)
        look = min([self._finder.needed_from, *asked])
        keep = self._frames.middle(look) - round(_MARGIN * self.rate) - self._frames.size
        surplus = keep - self._origin
        if surplus > self.rate:
            whole = np.concatenate(self._parts)
            self._parts = [whole[surplus:].copy()]
            self._origin, self._held = keep, self._held - surplus


class _HighPass:
    """Butterworth of second order, sample by sample: the same however blocks are cut."""

    def __init__(self, rate: int) -> None:
        from scipy.signal import butter

        self._sections = butter(2, _HIGH_PASS, "highpass", fs=rate, output="sos")
        self._state = np.zeros((1, 2))

    def without(self, sound: Array32) -> Array32:
        from scipy.signal import sosfilt

        found, self._state = sosfilt(self._sections, sound.astype(np.float64), zi=self._state)
        return np.asarray(found, dtype=np.float32)


def _same(before: Tone, after: Tone) -> bool:
    """Whether two stretches that join are one tone; of a pair, one reed may have been missed."""
    pairs = [(tone.hz, tone.upper_hz) if tone.upper_hz else (tone.hz,) for tone in (before, after)]
    if len(pairs[0]) == len(pairs[1]):
        return all(_near(one, other) for one, other in zip(*pairs, strict=True))
    return any(_near(one, other) for one in pairs[0] for other in pairs[1])


def _near(one: float, other: float) -> bool:
    return bool(abs(1200 * np.log2(one / other)) < _SAME_TONE)


def _joined(before: Tone, after: Tone) -> Tone:
    """One tone of two parts, each counting by its length."""
    share = before.seconds / max(1e-9, before.seconds + after.seconds)
    apart = 1200 * float(np.log2(after.hz / before.hz))
    inner = share * before.wander**2 + (1 - share) * after.wander**2
    errors = (share * before.uncertainty) ** 2 + ((1 - share) * after.uncertainty) ** 2
    return replace(
        before,
        end=after.end,
        hz=before.hz * 2 ** ((1 - share) * apart / 1200),
        uncertainty=float(np.sqrt(errors + share * (1 - share) * apart**2 / 4)),
        wander=float(np.sqrt(inner + share * (1 - share) * apart**2)),
        level=share * before.level + (1 - share) * after.level,
        noise=share * before.noise + (1 - share) * after.noise,
    )


def listen_to_reeds(
    path: Path,
    progress: Progress | None = None,
    *,
    trouble: Callable[[Trouble], None] | None = None,
) -> tuple[Tone, ...]:
    """The tones of a recording, in order. An hour of sound is read without being held.

    What may be wrong with the recording (clipping, noise, silence, damage) is told to `trouble`.
    Raises `UnreadableRecording`, and `NoReedHeard` where no tone is found.
    """
    from reedwright.sound.recording.blocks import blocks
    from reedwright.sound.recording.opening import open_recording
    from reedwright.sound.recording.troubles import Watch

    recording = open_recording(path)
    watch = Watch(recording.rate)
    listener = ReedListener(WANTED_RATE)
    tones: list[Tone] = []
    for block in blocks(recording, WANTED_RATE, 1, seconds=1.0, watch=watch):
        tones += listener.feed(block[:, 0])
        if progress is not None and recording.seconds:
            progress(min(1.0, listener.seconds / recording.seconds), "listening")
    tones += listener.finish()
    if progress is not None:
        progress(1.0, "listening")
    found = watch.troubles()
    if not tones:
        why = " ".join(each.message for each in found)
        raise NoReedHeard(
            f"{path}: no reed is heard in it that is held for a tenth of a second. "
            f"{why + ' ' if why else ''}"
            "Play each reed for a second, near the microphone, and record again."
        )
    if trouble is not None:
        for each in found:
            trouble(each)
    return tuple(tones)
