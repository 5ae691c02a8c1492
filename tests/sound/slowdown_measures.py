"""How good a slowed take is, measured beside the same notes truly played slower.

* `pitch_errors`: Praat's autocorrelation method (P. Boersma, 1993), cents, of held notes.
* `spectral_convergence`: || |S| - |S'| || / || |S| || over the magnitudes of a short-time
  Fourier transform (Sturmel and Daudet, "Signal reconstruction from STFT magnitude", DAFx 2011),
  after the level that fits best; lower is nearer.
* `log_attack_times`: log10 of the seconds in which the envelope rises from 10 % to 90 % of its
  height (MPEG-7 Audio, ISO/IEC 15938-4, LogAttackTime; the thresholds of a rise time as IEEE
  Std 181 has it); lower is sharper.
* `onset_flux`: spectral flux, half-wave rectified (S. Dixon, "Onset detection revisited", DAFx
  2006), its peak at each onset beside the mean magnitude after it; higher is sharper.
"""

from __future__ import annotations

import subprocess
import tempfile
import wave
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt
import parselmouth
from soundfont_takes import RATE, Played, Sound, write_wav

HELD = 0.06  # seconds of a note that are judged, at least
SPEAKING, LETTING_GO = 0.04, 0.02  # seconds at the ends of a note that are not its pitch
_WINDOW, _HOP = 2048, 256
_RISE_FROM, _RISE_TO = 0.1, 0.9
_AROUND = 0.06  # seconds around an onset


def later(notes: Sequence[Played], factor: float) -> list[Played]:
    """The same notes played so many times slower."""
    return [note._replace(start=note.start * factor, end=note.end * factor) for note in notes]


def by_rubberband(sound: Sound, factor: float, *options: str) -> Sound:
    """The rubberband command."""
    with tempfile.TemporaryDirectory() as folder:
        before, after = Path(folder) / "a.wav", Path(folder) / "b.wav"
        write_wav(before, sound)
        command = ["rubberband", "-q", *options, "-t", str(factor), str(before), str(after)]
        subprocess.run(command, check=True, stderr=subprocess.DEVNULL)
        with wave.open(str(after)) as file:
            frames = file.readframes(file.getnframes())
    return np.frombuffer(frames, "<i2").astype(np.float32) / 32768


def pitch_errors(
    slow: Sound, original: Sound, notes: Sequence[Played], factor: float, cents: float = 0.0
) -> list[float]:
    """Cents of each held note above the same note in the original (moved by `cents`).

    Medians of the same stretch of the note in both, `notes` being the original's. A soundfont's
    notes begin off their pitch: so the original is the measure, not what was asked for.
    """
    found = []
    before, after = _pitch(original), _pitch(slow)
    for note in notes:
        start, end = note.start + SPEAKING, note.end - LETTING_GO
        if end - start < HELD:
            continue
        wanted = _median(before, start, end)
        got = _median(after, start * factor, end * factor)
        # Praat may hear an octave off in a hiss; that is its doing in either.
        if wanted and got and abs(np.log2(got / wanted)) < 0.5:
            found.append(1200 * float(np.log2(got / wanted)) - cents)
    return found


def _pitch(sound: Sound) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    heard = parselmouth.Sound(sound.astype(np.float64), RATE).to_pitch_ac(
        time_step=0.005, pitch_floor=90, pitch_ceiling=2500, very_accurate=True
    )
    return heard.xs(), heard.selected_array["frequency"]


def _median(
    track: tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]], start: float, end: float
) -> float:
    times, hertz = track
    voiced = hertz[(times > start) & (times < end) & (hertz > 0)]
    return float(np.median(voiced)) if len(voiced) > 2 else 0.0


def _magnitudes(sound: Sound) -> npt.NDArray[np.float64]:
    windows = np.lib.stride_tricks.sliding_window_view(sound, _WINDOW)[::_HOP]
    return np.abs(np.fft.rfft(windows * np.hanning(_WINDOW)))


def spectral_convergence(sound: Sound, true: Sound) -> float:
    frames = min(len(sound), len(true))
    ours, theirs = _magnitudes(sound[:frames]), _magnitudes(true[:frames])
    level = float((ours * theirs).sum() / (ours**2).sum())
    return float(np.linalg.norm(theirs - level * ours) / np.linalg.norm(theirs))


def detached(notes: Sequence[Played]) -> list[Played]:
    """The same notes held for half their time, so that each begins out of a gap."""
    return [note._replace(end=note.start + 0.5 * (note.end - note.start)) for note in notes]


def log_attack_times(sound: Sound, notes: Sequence[Played], gap: float = 0.08) -> list[float]:
    """Of each note that a gap of so many seconds comes before and that lasts as long."""
    envelope = _envelope(sound)
    found = []
    last = 0.0
    for note in notes:
        clear = note.start - last >= gap and note.end - note.start >= gap
        last = max(last, note.end)
        if not clear:
            continue
        first = round((note.start - gap / 2) * RATE)
        rise = envelope[first : round((note.start + gap) * RATE)]
        top = float(rise.max())
        end = int(np.argmax(rise >= _RISE_TO * top))
        below = np.flatnonzero(rise[:end] <= _RISE_FROM * top)
        if len(below):  # otherwise the last note still rings too loudly
            found.append(float(np.log10((end - int(below[-1])) / RATE)))
    return found


def _envelope(sound: Sound) -> npt.NDArray[np.float64]:
    """The root of the power under a Hann window of 8 ms."""
    window = np.hanning(round(0.008 * RATE))
    power = np.convolve(np.square(sound, dtype=np.float64), window / window.sum(), "same")
    return np.sqrt(np.maximum(power, 0))


def onset_flux(sound: Sound, notes: Sequence[Played]) -> list[float]:
    size, hop = 512, 64
    windows = np.lib.stride_tricks.sliding_window_view(sound, size)[::hop]
    magnitude = np.abs(np.fft.rfft(windows * np.hanning(size)))
    flux = np.maximum(np.diff(magnitude, axis=0), 0).sum(axis=1)
    found = []
    for note in notes:
        middle = int(note.start * RATE / hop) - size // 2 // hop
        reach = int(_AROUND * RATE / hop)
        near = slice(max(0, middle - reach // 2), middle + reach)
        after = magnitude[middle : middle + 2 * reach].sum(axis=1)
        if len(after):
            found.append(float(flux[near].max() / max(after.mean(), 1e-9)))
    return found
