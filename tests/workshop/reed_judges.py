"""How near measured reeds come to the truth, beside two trackers that others wrote.

Both references are told when the tone is held and its range (three semitones to either side),
which the measuring under test is not. Errors in cents.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from made_reeds import MadeReed, Sound, laid

from reedwright.workshop.measuring.listening import ReedListener
from reedwright.workshop.measuring.model import Tone

_BLOCK = 4_096
SETTLED, LETTING_GO = 0.08, 0.03  # seconds after a start and before an end that are left out


def heard(sound: Sound, rate: int) -> tuple[Tone, ...]:
    """All tones, fed in blocks."""
    listener = ReedListener(rate)
    tones: list[Tone] = []
    for first in range(0, len(sound), _BLOCK):
        tones += listener.feed(sound[first : first + _BLOCK])
    return (*tones, *listener.finish())


def cents(hz: float, true: float) -> float:
    return float(1200 * np.log2(hz / true))


def matching(tones: Sequence[Tone], start: float, hz: float) -> list[Tone]:
    """The tones that begin there, within 100 ms, at that pitch, within 40 cents."""
    return [
        tone
        for tone in tones
        if abs(tone.start - start) < 0.1 and min(abs(cents(hz, p)) for p in _pitches(tone)) < 40
    ]


def _pitches(tone: Tone) -> tuple[float, ...]:
    return (tone.hz, tone.upper_hz) if tone.upper_hz else (tone.hz,)


def by_praat(sound: Sound, rate: int, start: float, end: float, hz: float) -> float:
    """Mean pitch of the held part by Praat's `To Pitch (ac)` (Boersma 1993), usual settings."""
    import parselmouth

    low, high = hz * 2 ** (-3 / 12), hz * 2 ** (3 / 12)
    part = sound[round((start + SETTLED) * rate) : round((end - LETTING_GO) * rate)]
    pitch = parselmouth.Sound(part.astype(np.float64), rate).to_pitch_ac(
        pitch_floor=low, pitch_ceiling=high
    )
    found = pitch.selected_array["frequency"]
    voiced = found[found > 0]
    return float(np.mean(voiced)) if len(voiced) else float("nan")


def by_pyin(sound: Sound, rate: int, start: float, end: float, hz: float) -> float:
    """Median pitch of the held part by pYIN (Mauch, Dixon 2014), in steps of 2 cents."""
    import librosa

    part = sound[round((start + SETTLED) * rate) : round((end - LETTING_GO) * rate)]
    length = 2_048 if hz < 200 else 1_024
    found, voiced, _ = librosa.pyin(
        np.pad(part, (0, max(0, length - len(part)))),
        fmin=hz * 2 ** (-3.007 / 12),  # so that the truth lies between two of its steps
        fmax=hz * 2 ** (3 / 12),
        sr=rate,
        frame_length=length,
        resolution=0.02,
        max_transition_rate=8.0,  # more is wider than the range it is told
        center=False,
    )
    usable = found[voiced & np.isfinite(found)]
    return float(np.median(usable)) if len(usable) else float("nan")


def any_reed(random: np.random.Generator, hz: float, seconds: float) -> MadeReed:
    """A reed of that pitch, the rest of it by lot."""
    return MadeReed(
        hz,
        seconds,
        level=0.2 * 10 ** (random.uniform(-8, 3) / 20),
        open_share=random.uniform(0.3, 0.6),
        bright=random.uniform(1.0, 2.0),
        rise=random.uniform(0.005, 0.020),
        fall=random.uniform(0.005, 0.015),
        scoop=random.uniform(0, 50),
        resonances=(random.uniform(700, 1_400), random.uniform(2_000, 3_500)),
        phase=random.uniform(),
    )


def alone(reed: MadeReed, rate: int, noise_db: float, seed: int) -> Sound:
    """One reed 0.2 s into the sound, noise so many dB under it."""
    return laid([(0.2, reed)], reed.seconds + 0.6, noise_db, seed, rate, reed.level)


def in_a_row(
    random: np.random.Generator, count: int, gaps: Sequence[float], lengths: Sequence[float]
) -> list[tuple[float, MadeReed]]:
    """Reeds one after the other, by lot, from D3 to F7; straight joins change the pitch by a
    semitone at least, and now and then one is played twice."""
    row: list[tuple[float, MadeReed]] = []
    while len(row) < count:
        hz = 146.8 * 2 ** (random.integers(0, 52) / 12 + random.uniform(-0.3, 0.3) / 12)
        gap = float(random.choice(gaps))
        if not row:
            row.append((0.3, any_reed(random, hz, float(random.choice(lengths)))))
            continue
        start, before = row[-1]
        if gap and random.uniform() < 0.15:
            hz = before.hz
        elif abs(cents(hz, before.hz)) < 90:
            continue
        after = any_reed(random, hz, float(random.choice(lengths)))
        row.append((start + before.seconds + gap, after))
    return row


def ends(row: Sequence[tuple[float, MadeReed]]) -> float:
    """When the sound of a row may stop."""
    start, reed = row[-1]
    return start + reed.seconds + 0.5


def in_a_room(sound: Sound, rate: int, seconds: float, seed: int, under: float = 6.0) -> Sound:
    """In a room: noise that dies away by 60 dB in `seconds`, its energy `under` dB below."""
    random = np.random.default_rng(seed)
    count = round(seconds * rate)
    answer = random.standard_normal(count) * 10 ** (-3 * np.arange(count) / count)
    answer[: round(0.005 * rate)] = 0
    answer *= 10 ** (-under / 20) / np.sqrt(np.sum(answer**2))
    answer[0] = 1
    size = len(sound) + count
    both = np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(answer, size), size)
    return both[: len(sound)].astype(np.float32)
