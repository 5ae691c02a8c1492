"""One note of the reed voice: pitch, loudness, colour and breath through its time."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.harp.model import Breath, Technique
from reedwright.sound.events import Onset, SoundedNote
from reedwright.sound.noise import DRIFT_RATE, breath, drift
from reedwright.sound.spectrum import LOW_REED, TABLE_SIZE, Timbre, wave_table

Array = npt.NDArray[np.float64]
Array32 = npt.NDArray[np.float32]

RATE = 44_100  # frames a second
_PHASE_BITS = 32
_TABLE_SHIFT = _PHASE_BITS - (TABLE_SIZE.bit_length() - 1)

# Low reeds are heavy and speak late (30 to 60 ms, common practice; from memory).
SLOWEST_ATTACK, FASTEST_ATTACK = 0.060, 0.024  # seconds
SLURRED_ATTACK = 0.6  # of the tongued one: the air already flows
ATTACK_SHARE = 0.4  # of the note at most
RELEASE_LOW, RELEASE_HIGH = 0.034, 0.020  # seconds
SETTLING_CENTS, SETTLING_SECONDS = 9.0, 0.014  # a reed starts a little flat
DRIFT_CENTS, DRIFT_LEVEL = 0.7, 0.035  # wavering of pitch (cents) and loudness (share)
VIBRATO_HERTZ, VIBRATO_CENTS, VIBRATO_LEVEL = 5.4, 7.0, 0.07
VIBRATO_AFTER, VIBRATO_GROWS = 0.32, 0.35  # seconds
SHORTEST_VIBRATO_NOTE = 0.55  # seconds

# Breath noise beside the reed's tone, as a share of its power's root (assumptions by ear's
# order: an unvalved low blow reed leaks through its neighbour's slot, a valve stops that).
LEAKY_BREATH, USUAL_BREATH, VALVED_BREATH = 0.040, 0.016, 0.007
LEAKY_BELOW = 500.0  # Hz
CHIFF, CHIFF_SECONDS = 0.09, 0.010  # the tongue's puff


class Parts(NamedTuple):
    """What of the voice is on; all but the bare reed can be put off, for measuring."""

    breath: bool = True
    vibrato: bool = True
    drift: bool = True
    room: bool = True


ALL = Parts()


def render_note(note: SoundedNote, seed: int, parts: Parts = ALL) -> Array32:
    """The note from its start to the end of its release, shape (frames,).

    `seed` picks the chance in it. At velocity 1 the tone has about unit power.
    """
    release = float(np.interp(note.frequency, (LOW_REED, 2000.0), (RELEASE_LOW, RELEASE_HIGH)))
    frames = max(8, round((note.seconds + release) * RATE))
    time = np.arange(frames, dtype=np.float32) / np.float32(RATE)
    wavering = _wavering(frames, seed, parts)
    vibrato = _vibrato(note, time, seed) if parts.vibrato else None
    level = _level(note, time, release)
    if wavering is not None:
        level *= 1 + DRIFT_LEVEL * wavering
    colour = _colour(note, level)
    if vibrato is not None:
        level *= 1 + VIBRATO_LEVEL / VIBRATO_CENTS * vibrato
    places = _places(note, time, wavering, vibrato)
    waves = wave_table(_timbre(note))[places]
    tone: Array32 = (waves.real + colour * waves.imag) * level
    if parts.breath:
        tone += _breath(note, time, level, seed)
    return tone * np.float32(note.velocity)


def _timbre(note: SoundedNote) -> Timbre:
    if note.sounding is None:
        return Timbre(note.frequency, 0, Breath.BLOW, Technique.NATURAL, False)
    hole, by, technique = note.sounding[:3]
    return Timbre(note.frequency, hole, by, technique, note.isolated)


def _wavering(frames: int, seed: int, parts: Parts) -> Array32 | None:
    if not parts.drift:
        return None
    points = int(frames / RATE * DRIFT_RATE) + 2
    slow = drift(points, seed)
    at = np.arange(frames, dtype=np.float32) * np.float32(DRIFT_RATE / RATE)
    wavering: Array32 = np.interp(at, np.arange(points), slow).astype(np.float32)
    return wavering


def _vibrato(note: SoundedNote, time: Array32, seed: int) -> Array32 | None:
    """In cents, growing in the course of long notes on reeds that give way."""
    if not note.bendable or note.seconds < SHORTEST_VIBRATO_NOTE:
        return None
    depth = np.clip((time - VIBRATO_AFTER) / VIBRATO_GROWS, 0, 1) * VIBRATO_CENTS
    rate = VIBRATO_HERTZ + 0.3 * ((seed * 0.618) % 1 - 0.5)
    wave: Array32 = depth * np.sin(np.float32(2 * np.pi * rate) * (time - VIBRATO_AFTER))
    return wave


def _level(note: SoundedNote, time: Array32, release: float) -> Array32:
    """Speaking, a slight fall to the held tone, release; 0 to 1."""
    attack = SLOWEST_ATTACK * (LOW_REED / note.frequency) ** 0.4
    attack = float(np.clip(attack, FASTEST_ATTACK, SLOWEST_ATTACK))
    if note.onset is Onset.SLURRED:
        attack *= SLURRED_ATTACK
    attack = max(0.004, min(attack, ATTACK_SHARE * note.seconds))
    rise = np.sin(np.float32(np.pi / 2) * np.minimum(time / attack, 1)) ** 2
    held = 0.88 + 0.12 * np.exp(-np.maximum(time - attack, 0) / 0.15)
    fall = np.cos(np.float32(np.pi / 2) * np.clip((time - note.seconds) / release, 0, 1)) ** 2
    level: Array32 = (rise * held * fall).astype(np.float32)
    return level


def _colour(note: SoundedNote, level: Array32) -> Array32:
    """How much of full breath's brightness, 0 to 1: the louder the brighter."""
    colour: Array32 = np.clip(level * np.float32(0.45 + 0.6 * note.velocity), 0, 1.1)
    return colour


def _places(
    note: SoundedNote, time: Array32, wavering: Array32 | None, vibrato: Array32 | None
) -> npt.NDArray[np.uint32]:
    """Where in the wave table each frame reads: phase from the pitch, summed exactly."""
    cents = -SETTLING_CENTS * np.exp(time / np.float32(-SETTLING_SECONDS))
    if note.glide_time:
        # A bend sinks slowly at first, then quickly, then settles.
        way = np.clip(time / np.float32(note.glide_time), 0, 1)
        cents += np.float32(note.glide_from) * (1 + np.cos(np.float32(np.pi) * way)) / 2
    if wavering is not None:
        cents += DRIFT_CENTS * wavering
    if vibrato is not None:
        cents += vibrato
    step = note.frequency / RATE * 2.0**_PHASE_BITS
    steps = np.exp(cents * np.float32(np.log(2) / 1200)).astype(np.float64)
    steps *= step
    phase = np.cumsum(steps)
    phase -= phase[0]  # starts at a zero of the wave's first partial
    turns = phase.astype(np.uint64).astype(np.uint32)
    return np.right_shift(turns, np.uint32(_TABLE_SHIFT))


def _breath(note: SoundedNote, time: Array32, level: Array32, seed: int) -> Array32:
    blown = note.sounding is not None and note.sounding.breath is Breath.BLOW
    if note.isolated:
        share = VALVED_BREATH
    elif blown and note.frequency < LEAKY_BELOW:
        share = LEAKY_BREATH
    else:
        share = USUAL_BREATH
    amount = np.float32(share) * level
    if note.onset is Onset.TONGUED and not note.is_grace:
        # Fades in within 2 ms, so that it puffs and does not click.
        amount = amount + np.float32(CHIFF) * np.exp(time / np.float32(-CHIFF_SECONDS)) * (
            np.minimum(time / np.float32(0.002), 1)
        )
    hiss: Array32 = breath(len(time), seed) * amount
    return hiss
