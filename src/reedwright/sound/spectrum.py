"""The harmonic spectrum of a free reed, and from it the wave tables that the voice reads.

The general shape is from what the literature on free reeds reports (from memory: measured
harmonica and accordion spectra; air flows in pulses, so that the partials fall off slowly
for low reeds and faster for high ones, and on low reeds the first partial is weaker than
those around 1 kHz). The numbers are assumptions fitted to that shape, not measurements.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.harp.model import Breath, Technique

Array = npt.NDArray[np.float64]

TABLE_SIZE = 1 << 16  # read at the nearest place: error noise near -90 dB
HIGHEST_PARTIAL = 17_500.0  # Hz; below half of 44.1 kHz also when a bend begins above its note

LOW_REED = 196.0  # Hz (G3, the lowest of the ordinary harps)
SLOPE_AT_LOW_REED, SLOPE_PER_OCTAVE = 4.2, 1.8  # dB an octave of partial number
STEEPEST = 11.0
SOFT_EXTRA_SLOPE = 5.0  # the soft wave's further dB an octave
BEND_EXTRA_SLOPE = 2.2  # bends are darker
VALVED_EXTRA_SLOPE = 1.0  # and valved reeds purer
OVERBLOW_EXTRA_SLOPE = -1.2  # overblows brighter, with less of the first partial
OVERBLOW_FUNDAMENTAL = -4.0  # dB
UNEVENNESS = 1.5  # dB, by which each reed's partials differ from the smooth curve


class Timbre(NamedTuple):
    """What the tone colour of a note depends on."""

    frequency: float
    hole: int
    breath: Breath
    technique: Technique
    isolated: bool


def partial_levels(timbre: Timbre) -> Array:
    """Level in dB of each partial from the first up, for a fully sounding reed."""
    count = max(1, int(HIGHEST_PARTIAL / timbre.frequency))
    number = np.arange(1, count + 1, dtype=np.float64)
    hertz = number * timbre.frequency
    slope = SLOPE_AT_LOW_REED + SLOPE_PER_OCTAVE * np.log2(timbre.frequency / LOW_REED)
    slope = float(np.clip(slope, 2.5, STEEPEST)) + _technique_slope(timbre)
    levels = -slope * np.log2(number) + _body(hertz)
    # The two breaths drive the reed from its two sides: a blow note has slightly more of the
    # even partials, a draw note of the odd ones.
    even = number % 2 == 0
    levels += np.where(even == (timbre.breath is Breath.BLOW), 0.8, -0.8)
    reed = np.random.default_rng([timbre.hole, timbre.breath is Breath.DRAW])
    levels += UNEVENNESS * reed.uniform(-1, 1, count)
    if timbre.technique.overbend:
        levels[0] += OVERBLOW_FUNDAMENTAL
    return levels


def _technique_slope(timbre: Timbre) -> float:
    extra = VALVED_EXTRA_SLOPE if timbre.isolated else 0.0
    if timbre.technique in (Technique.BEND, Technique.VALVED_BEND):
        extra += BEND_EXTRA_SLOPE
    elif timbre.technique.overbend:
        extra += OVERBLOW_EXTRA_SLOPE
    return extra


def _body(hertz: Array) -> Array:
    """Comb, covers and hands, in dB: weak bass, a warm and a bright region, a soft top."""
    bass = -10 * np.log10(1 + (260 / hertz) ** 2)
    warm = 3.5 * np.exp(-((np.log2(hertz / 1000) / 0.9) ** 2))
    bright = 4.5 * np.exp(-((np.log2(hertz / 2900) / 0.55) ** 2))
    top = -12 * np.maximum(0, np.log2(hertz / 4200)) - 14 * np.maximum(0, np.log2(hertz / 11000))
    shaped: Array = bass + warm + bright + top
    return shaped


@lru_cache(maxsize=128)
def wave_table(timbre: Timbre) -> npt.NDArray[np.complex64]:
    """One period: the soft wave as the real part, what full breath adds as the imaginary one.

    Shape (TABLE_SIZE,). Both in one complex table, so that one look-up gives both.
    """
    levels = partial_levels(timbre)
    number = np.arange(1, len(levels) + 1)
    full = _normal(10 ** (levels / 20), timbre.frequency)
    soft = _normal(10 ** ((levels - SOFT_EXTRA_SLOPE * np.log2(number)) / 20), timbre.frequency)
    # Phases spread so that the pulse keeps its edge but not its height.
    phases = np.exp(-0.55j * np.pi * number * (number - 1) / len(levels))
    waves = []
    for amplitudes in (soft, full):
        spectrum = np.zeros(TABLE_SIZE // 2 + 1, dtype=np.complex128)
        spectrum[1 : len(levels) + 1] = amplitudes * phases * (TABLE_SIZE / 2) * -1j
        waves.append(np.fft.irfft(spectrum, TABLE_SIZE))
    table = waves[0] + 1j * (waves[1] - waves[0])
    return table.astype(np.complex64)


def _normal(amplitudes: Array, frequency: float) -> Array:
    """Equally loud for every reed: unit power, as the ear's high-shelf weighting has it."""
    hertz = frequency * np.arange(1, len(amplitudes) + 1)
    # The pre-filter of ITU-R BS.1770 lifts the top by 4 dB, power 2.5; its curve simplified.
    weight = 1 + 1.5 * hertz**2 / (hertz**2 + 1500.0**2)
    normal: Array = amplitudes / np.sqrt(np.sum(weight * amplitudes**2))
    return normal
