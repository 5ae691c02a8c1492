"""Free reeds made by arithmetic, whose pitch is known to any figure: for judging measures of it.

A free reed swings in a sine and lets air through its slot in pulses, so the sound is a pulse train
whose partials are exactly harmonic (textbook acoustics; from memory). One swing is drawn, cut into
its partials by a Fourier sum, coloured by two broad resonances, and each partial is written out as
a sine, so that nothing lies above half of the rate. It shares nothing with the product's own reed
voice. Noise is pink; how far it lies under the tone is counted in mean power of the held tone.

Times in seconds, pitches in Hz, sound float32 of shape (frames,).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

RATE = 22_050
Sound = npt.NDArray[np.float32]
_SWING = 512  # places in one swing of the reed


@dataclass(frozen=True)
class MadeReed:
    """What one reed is to sound like.

    `open_share`: of a swing, that the slot is open; `bright`: exponent of the pulse; `rise`: the
    time constant of the attack, `fall` of the release; `scoop`: cents that it begins flat,
    come right in `rise`; `drift`: cents that it moves from its first to its last moment, half
    below and half above `hz`; `vibrato`: cents up and down at 5.5 Hz.
    """

    hz: float
    seconds: float
    level: float = 0.2  # RMS
    open_share: float = 0.45
    bright: float = 1.5
    rise: float = 0.012
    fall: float = 0.012
    scoop: float = 25.0
    drift: float = 0.0
    vibrato: float = 0.0
    resonances: tuple[float, float] = (1_100.0, 2_900.0)
    phase: float = 0.0


def partials_of(reed: MadeReed, rate: int) -> npt.NDArray[np.complex128]:
    """Complex amplitudes of the partials from the first up to 0.45 of the rate."""
    place = np.arange(_SWING) / _SWING
    lift = np.cos(2 * np.pi * place) - np.cos(np.pi * reed.open_share)
    pulse = np.maximum(lift, 0.0) ** reed.bright
    found = np.fft.rfft(pulse)[1:]
    count = max(1, min(len(found), int(0.45 * rate / reed.hz)))
    hertz = reed.hz * np.arange(1, count + 1)
    colour = 0.35 + sum(1 / (1 + ((hertz - at) / (0.45 * at)) ** 2) for at in reed.resonances)
    return np.asarray(found[:count] * colour)


def sounded_reed(reed: MadeReed, rate: int = RATE, tail: float = 0.15) -> Sound:
    """One reed, from its first breath on, `tail` seconds of dying away at the end."""
    time = np.arange(round((reed.seconds + tail) * rate)) / rate
    cents = -reed.scoop * np.exp(-time / reed.rise)
    cents += reed.drift * (np.clip(time / reed.seconds, 0, 1) - 0.5)
    cents += reed.vibrato * np.sin(2 * np.pi * 5.5 * time)
    turned = np.cumsum(reed.hz * 2 ** (cents / 1200)) / rate + reed.phase
    sound = np.zeros(len(time))
    amplitudes = partials_of(reed, rate)
    for k, amplitude in enumerate(amplitudes, start=1):
        # Higher partials come a little later, as a reed opens out.
        rising = 1 - np.exp(-time / (reed.rise * (1 + 0.05 * k)))
        sound += np.abs(amplitude) * rising * np.cos(2 * np.pi * k * turned + np.angle(amplitude))
    sound *= np.exp(-np.maximum(0.0, time - reed.seconds) / reed.fall)
    held = sound[: round(reed.seconds * rate)]
    return (reed.level * sound / np.sqrt(np.mean(held**2))).astype(np.float32)


def pink(frames: int, seed: int, rate: int = RATE) -> Sound:
    """Pink noise of RMS 1 from 20 Hz up."""
    random = np.random.default_rng(seed)
    spectrum = np.fft.rfft(random.standard_normal(frames))
    spectrum /= np.sqrt(np.maximum(np.fft.rfftfreq(frames, 1 / rate), 20.0))
    noise = np.fft.irfft(spectrum, frames)
    return (noise / np.sqrt(np.mean(noise**2))).astype(np.float32)


def laid(
    reeds: Sequence[tuple[float, MadeReed]],
    seconds: float,
    noise_db: float | None = 30.0,
    seed: int = 1,
    rate: int = RATE,
    level: float = 0.2,
) -> Sound:
    """Reeds from their starts on, in `seconds` of sound, noise under a tone of RMS `level`."""
    whole = np.zeros(round(seconds * rate), dtype=np.float32)
    for start, reed in reeds:
        made = sounded_reed(reed, rate)
        first = round(start * rate)
        made = made[: len(whole) - first]
        whole[first : first + len(made)] += made
    if noise_db is not None:
        whole += np.float32(level * 10 ** (-noise_db / 20)) * pink(len(whole), seed, rate)
    return whole
