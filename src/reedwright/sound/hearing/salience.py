"""How strongly each pitch speaks in each short stretch of sound.

A spectrum is compared with combs: for every pitch of a fine grid one that rewards what lies
on its partials and punishes what lies midway between them, so that neither the octave above
(it leaves odd partials between its own) nor the one below (half its partials are not there)
wins. The idea of such a comb on the square root of the amplitude is that of SWIPE (Camacho and
Harris 2008, A sawtooth waveform inspired pitch estimator for speech and music); lobes here are
as wide as the window's own.

Public: `combs_for`, `Combs`, `Candidates`, `HOP`.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.sound.hearing.gathering import Gathered, spans
from reedwright.sound.hearing.model import Array32

HOP = 0.005  # seconds from frame to frame
LOWEST, HIGHEST = 41.5, 104.5  # MIDI; low harps begin at 43, high ones end at 102
STEP = 0.2  # semitones between neighbouring pitches of the grid
_LONG, _SHORT = 0.046, 0.025  # seconds of window, for low and for high notes
_CROSSING = 62.0  # MIDI note about which one window gives way to the other
_PARTIALS = 12
_TOP = 9_500.0  # Hz: nothing above is looked at
_BOTTOM = 70.0
CHOICES = 5  # candidates kept in a frame
_BATCH = 2_000  # frames at once: 10 s


_FAINT = 1e-4  # beside this a spectrum is silence
_TUNING_PARTIALS = 6  # that a pitch is set right by
_REFINED_BY = 0.009  # of the frequency, about 15 cents: more is another sound's doing

Whole = npt.NDArray[np.int64]
Array64 = npt.NDArray[np.float64]
Spectra = npt.NDArray[np.complex64]


class Candidates(NamedTuple):
    """The likeliest pitches of each frame, best first.

    `midi` and `score` have shape (frames, CHOICES), score 0 to 1 (0: there is none);
    `level` in dBFS has shape (frames,).
    """

    midi: Array32
    score: Array32
    level: Array32


@lru_cache(maxsize=2)
def combs_for(rate: float) -> Combs:
    """The combs for sound of so many frames a second."""
    return Combs(rate)


class Combs:
    """The combs for one rate."""

    def __init__(self, rate: float) -> None:
        self.rate = rate
        self.midi = np.arange(LOWEST, HIGHEST + STEP / 2, STEP)
        hertz = 440 * 2 ** ((self.midi - 69) / 12)
        share = 1 / (1 + np.exp((self.midi - _CROSSING) / 1.0))
        self._views = [
            _View(rate, _LONG, hertz, share),
            _View(rate, _SHORT, hertz, 1 - share),
        ]

    def candidates(self, sound: Gathered) -> Candidates:
        """Listen to all of it, 10 s at a time."""
        total = int(sound.frames / sound.rate / HOP) + 1 if sound.frames else 0
        parts = [self._batch(sound, low, high) for low, high in spans(total, _BATCH)]
        if not parts:
            none = np.zeros((0, CHOICES), dtype=np.float32)
            return Candidates(none, none, none[:, 0])
        return Candidates(*(np.concatenate(each) for each in zip(*parts, strict=True)))

    def _batch(self, sound: Gathered, first: int, last: int) -> Candidates:
        # One frame more on either side, for the turning of phases from frame to frame.
        middles = np.rint(np.arange(first - 1, last + 1) * HOP * self.rate).astype(np.int64)
        reach = max(view.size for view in self._views)
        begin = int(middles[0]) - reach
        part = sound.part(begin, int(middles[-1]) + reach)
        scores = np.zeros((last - first, len(self.midi)), dtype=np.float32)
        level = np.zeros(last - first, dtype=np.float32)
        spectra = []
        for view in self._views:
            spectrum, power = view.spectra(part, middles - begin)
            view.add_scores(spectrum[1:-1], scores)
            level = power[1:-1]  # the short window's
            spectra.append(spectrum)
        midi, score = _peaks(scores, self.midi)
        steps = np.diff(middles) / self.rate
        midi = self._views[0].refined(spectra[0], steps, midi)
        return Candidates(midi, score, (10 * np.log10(level + 1e-12)).astype(np.float32))


class _View:
    """One window's spectra against the combs."""

    def __init__(
        self,
        rate: float,
        seconds: float,
        hertz: Array64,
        share: Array64,
    ) -> None:
        self._rate = rate
        self.size = 2 * round(seconds * rate / 2)
        window = np.hanning(self.size + 1)[:-1]
        self._window = (window * 2 / window.sum()).astype(np.float32)
        self._power = float(np.sum(self._window**2))
        self._padded = 1 << (self.size - 1).bit_length()
        frequency = np.fft.rfftfreq(self._padded, 1 / rate)
        self._bins = slice(
            int(np.searchsorted(frequency, _BOTTOM)), int(np.searchsorted(frequency, _TOP))
        )
        lobe = 2 * rate / self.size  # half the main lobe of a Hann window
        self._used = share > 0.01
        combs = _combs(frequency[self._bins].astype(np.float64), hertz[self._used], lobe)
        self._combs = (combs * share[self._used, None]).T.astype(np.float32)

    def spectra(self, part: Array32, middles: Whole) -> tuple[Spectra, Array32]:
        """Of all frames: complex spectra of shape (frames, bins), and mean power."""
        from scipy.fft import rfft

        frames = part[middles[:, None] - self.size // 2 + np.arange(self.size)]
        frames -= frames.mean(axis=1, keepdims=True)
        frames *= self._window
        power = np.einsum("ij,ij->i", frames, frames) / np.float32(self._power)
        spectra: Spectra = rfft(frames, self._padded, axis=1)[:, self._bins]
        return spectra, power

    def add_scores(self, spectra: Spectra, scores: Array32) -> None:
        """Add the scores of this view to `scores` of shape (frames, pitches)."""
        root = np.sqrt(np.abs(spectra))
        root /= np.sqrt(np.einsum("ij,ij->i", root, root))[:, None] + np.float32(_FAINT)
        scores[:, self._used] += root @ self._combs

    def refined(self, spectra: Spectra, steps: Array64, midi: Array32) -> Array32:
        """Pitches set right by how far the phase of their partials turns from frame to frame.

        That is the instantaneous frequency (Flanagan and Golden 1966, Phase vocoder); partials
        count by their power and by the square of their number, as in the best estimate from
        harmonics in white noise. `steps` is the seconds between frames: `spectra` has one
        frame more than `midi` on either side.
        """
        hertz = 440 * 2 ** ((midi.astype(np.float64) - 69) / 12)
        rows = np.arange(1, len(midi) + 1)[:, None]
        pull, weight = np.zeros(hertz.shape), np.full(hertz.shape, 1e-20)
        for k in range(1, _TUNING_PARTIALS + 1):
            place = np.rint(k * hertz * self._padded / self._rate).astype(np.int64)
            inside = place < self._bins.stop
            place = np.minimum(place, self._bins.stop - 1) - self._bins.start
            here = spectra[rows, place]
            turned = here * np.conj(spectra[rows - 1, place])
            back = np.exp(-2j * np.pi * k * hertz * steps[:-1, None])
            ahead = spectra[rows + 1, place] * np.conj(here)
            onward = np.exp(-2j * np.pi * k * hertz * steps[1:, None])
            both = turned * back + ahead * onward
            power = np.abs(both) * inside
            pull += power * k * np.angle(both)
            weight += power * k * k
        off = pull / weight / (2 * np.pi * HOP)  # Hz
        cents = np.clip(off / hertz, -_REFINED_BY, _REFINED_BY) * 12 / np.log(2)
        result: Array32 = (midi + cents).astype(np.float32)
        return result


def _combs(frequency: Array64, hertz: Array64, lobe: float) -> Array64:
    """Shape (pitches, bins), the rewarding part of each of length 1."""
    made = np.zeros((len(hertz), len(frequency)))
    for row, tone in zip(made, hertz, strict=True):
        width = min(lobe, tone / 4)
        count = min(_PARTIALS, int(_TOP / tone))
        for k in range(1, count + 1):
            weight = k**-0.5
            row += weight * _lobe(frequency - k * tone, width)
            row -= 0.5 * weight * _lobe(frequency - (k - 0.5) * tone, width)
        row -= 0.5 * (count + 1) ** -0.5 * _lobe(frequency - (count + 0.5) * tone, width)
        row /= np.sqrt(np.sum(np.maximum(row, 0) ** 2))
    return made


def _lobe(off: Array64, width: float) -> Array64:
    return np.where(np.abs(off) < width, np.cos(np.pi / 2 * off / width), 0.0)


def _peaks(scores: Array32, midi: Array64) -> tuple[Array32, Array32]:
    """The highest local peaks of each row, set between the grid's pitches by a parabola."""
    inner = scores[:, 1:-1]
    peak = (inner >= scores[:, :-2]) & (inner > scores[:, 2:]) & (inner > 0)
    ranked = np.where(peak, inner, 0)
    best = np.argpartition(-ranked, CHOICES, axis=1)[:, :CHOICES]
    order = np.argsort(-np.take_along_axis(ranked, best, axis=1), axis=1)
    best = np.take_along_axis(best, order, axis=1)
    score = np.take_along_axis(ranked, best, axis=1)
    left = np.take_along_axis(scores, best, axis=1)
    mid = np.take_along_axis(scores, best + 1, axis=1)
    right = np.take_along_axis(scores, best + 2, axis=1)
    bow = left - 2 * mid + right
    off = np.where(bow < 0, 0.5 * (left - right) / np.where(bow < 0, bow, -1), 0.0)
    found = midi[best + 1] + STEP * np.clip(off, -0.5, 0.5)
    return found.astype(np.float32), score.astype(np.float32)
