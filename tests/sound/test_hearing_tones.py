"""Hearing of sounds whose truth is plain: tones, silence, noise, clicks, talk, odd input."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import lfilter
from soundfont_takes import pink_noise

from reedwright.errors import ReedwrightError
from reedwright.sound.hearing.gathering import Gatherer
from reedwright.sound.hearing.listening import hear_sound
from reedwright.sound.hearing.model import Array32, Heard

RATE = 22_050


def tone(hz: float | Array32, seconds: float = 1.0, rate: int = RATE, partials: int = 8) -> Array32:
    """A steady tone of falling partials, or a single one; `hz` may change from frame to frame."""
    course = np.broadcast_to(np.asarray(hz, dtype=np.float64), round(seconds * rate))
    phase = 2 * np.pi * np.cumsum(course) / rate
    sound = np.zeros(len(course))
    for k in range(1, partials + 1):
        if k * course.max() < 0.45 * rate:
            sound += np.sin(k * phase + k) / k
    return (0.3 * sound / np.abs(sound).max()).astype(np.float32)


def between_silences(sound: Array32, rate: int = RATE) -> Array32:
    silence = np.zeros(rate // 2, dtype=np.float32)
    return np.concatenate([silence, sound, silence])


def hertz(midi: float) -> float:
    return float(440 * 2 ** ((midi - 69) / 12))


def all_finite(heard: Heard) -> bool:
    track = heard.track
    arrays = (track.hz, track.surety, track.level, heard.novelty)
    return all(bool(np.isfinite(each).all()) for each in arrays) and np.isfinite(heard.a4)


@pytest.mark.parametrize("partials", [1, 8])
@pytest.mark.parametrize("hz", [98.0, 147.3, 220.0, 440.0, 987.0, 1711.0, 2349.0, 3000.0])
def test_a_known_tone_is_heard_within_a_cent(hz: float, partials: int) -> None:
    (note,) = hear_sound(between_silences(tone(hz, partials=partials)), RATE).notes
    assert abs(1200 * np.log2(note.hz / hz)) < 1
    assert note.start == pytest.approx(0.5, abs=0.02)
    assert note.end == pytest.approx(1.5, abs=0.02)


@settings(max_examples=12, deadline=None)
@given(
    midi=st.floats(43, 102),
    gain=st.floats(-40, 0),
    rate=st.sampled_from([16_000, 22_050, 32_000, 44_100, 48_000]),
)
def test_a_tone_at_any_pitch_level_and_rate_is_one_note(
    midi: float, gain: float, rate: int
) -> None:
    sound = tone(hertz(midi), 0.4, rate) * np.float32(10 ** (gain / 20))
    heard = hear_sound(between_silences(sound, rate), rate)
    (note,) = heard.notes
    assert abs(100 * (note.midi - midi)) < 1.5
    assert heard.duration == pytest.approx(1.4, abs=0.001)


@pytest.mark.parametrize("frames", [0, 1, 10, 500])
def test_very_short_sound_is_taken(frames: int) -> None:
    heard = hear_sound(tone(500.0)[:frames], RATE)
    assert heard.duration == frames / RATE
    assert heard.notes == ()
    assert all_finite(heard)


def no_notes() -> list[tuple[str, Array32]]:
    random = np.random.default_rng(3)
    clicks = np.zeros(4 * RATE, dtype=np.float32)
    clicks[:: RATE // 4] = 0.9
    return [
        ("silence", np.zeros(2 * RATE, dtype=np.float32)),
        ("a constant", np.full(2 * RATE, 0.5, dtype=np.float32)),
        ("white noise", (0.1 * random.standard_normal(10 * RATE)).astype(np.float32)),
        ("pink noise", 0.5 * pink_noise(10 * RATE, 3)),
        ("clicks", clicks),
    ]


@pytest.mark.parametrize(("name", "sound"), no_notes(), ids=[name for name, _ in no_notes()])
def test_what_has_no_pitch_gives_no_notes(name: str, sound: Array32) -> None:
    heard = hear_sound(sound, RATE)
    assert heard.notes == ()
    assert heard.a4 == 440
    assert not heard.track.hz.any()
    assert all_finite(heard)


def test_a_constant_under_a_tone_does_not_matter() -> None:
    (note,) = hear_sound(tone(587.0) + np.float32(0.4), RATE).notes
    assert abs(1200 * np.log2(note.hz / 587.0)) < 1


def test_frames_that_are_not_numbers_count_as_silence() -> None:
    sound = tone(587.0)
    sound[9_000:9_010] = np.nan
    sound[12_000] = np.inf
    heard = hear_sound(sound, RATE)
    assert len(heard.notes) == 1
    assert all_finite(heard)


def test_sound_too_coarse_is_refused_in_words() -> None:
    with pytest.raises(ReedwrightError, match=r"8000 samples a second.*16000"):
        hear_sound(np.zeros(800, dtype=np.float32), 8_000)


def test_a_bend_that_glides_into_its_note_is_one_note() -> None:
    """From a whole tone below in 100 ms, then held."""
    midi = np.concatenate([np.linspace(69, 71, RATE // 10), np.full(RATE, 71.0)])
    (note,) = hear_sound(tone(440 * 2 ** ((midi - 69) / 12), 1.1), RATE).notes
    assert abs(note.midi - 71) < 0.02


def test_a_glide_between_two_held_pitches_is_two_notes_without_attack() -> None:
    glide = np.linspace(71, 70, round(0.08 * RATE))
    midi = np.concatenate([np.full(RATE // 2, 71.0), glide, np.full(RATE // 2, 70.0)])
    sound = tone(440 * 2 ** ((midi - 69) / 12), len(midi) / RATE)
    upper, lower = hear_sound(sound, RATE).notes
    assert abs(upper.midi - 71) < 0.02
    assert abs(lower.midi - 70) < 0.02
    assert lower.start == pytest.approx(0.54, abs=0.03)
    assert lower.attack < 0.2


def test_vibrato_shows_as_spread_and_not_as_notes() -> None:
    """6 Hz, 30 cents up and down: half the quartiles' distance of a sine is 0.707 of its peak."""
    time = np.arange(2 * RATE) / RATE
    midi = 74 + 0.3 * np.sin(2 * np.pi * 6 * time)
    (note,) = hear_sound(tone(440 * 2 ** ((midi - 69) / 12), 2.0), RATE).notes
    assert note.spread == pytest.approx(30 * np.sin(np.pi / 4), abs=3)
    assert abs(note.midi - 74) < 0.03


def talk(seconds: float, seed: int) -> Array32:
    """Like speech: pulses at a wandering 90 to 150 Hz through three gliding formants, in syllables.

    Formants as in Peterson and Barney's vowels (1952), roughly; resonances as in Klatt (1980).
    """
    random = np.random.default_rng(seed)
    frames = int(seconds * RATE)
    time = np.arange(frames) / RATE

    def course(every: float, low: float, high: float) -> np.ndarray:
        marks = np.arange(0, seconds + 2 * every, every)
        return np.interp(time, marks, random.uniform(low, high, len(marks)))

    phase = np.cumsum(120 * 2 ** course(0.25, -0.35, 0.35) / RATE)
    sound = np.diff(np.floor(phase), prepend=0.0) + 0.01 * random.standard_normal(frames)
    for low, high in ((300, 800), (900, 2200), (2300, 3000)):
        hz, state, step = course(0.15, low, high), np.zeros(2), RATE // 50
        for first in range(0, frames, step):
            radius = np.exp(-np.pi * 90 / RATE)
            poles = [1, -2 * radius * np.cos(2 * np.pi * hz[first] / RATE), radius**2]
            part = sound[first : first + step]
            sound[first : first + step], state = lfilter([1 - radius], poles, part, zi=state)
    sound *= np.clip(course(0.12, -0.5, 1.5), 0, 1)
    return (0.5 * sound / np.abs(sound).max()).astype(np.float32)


def test_talk_is_less_sure_than_playing() -> None:
    spoken = hear_sound(talk(8.0, 3), RATE).notes
    played = hear_sound(tone(587.0), RATE).notes
    assert np.median([note.surety for note in spoken] or [0.0]) < 0.6
    assert min(note.surety for note in played) > 0.95


def test_halving_the_rate_keeps_every_moment_in_place() -> None:
    """A click a second, for 12 s (several pieces), stands at half its frame exactly."""
    rate = 44_100
    sound = np.zeros(12 * rate, dtype=np.float32)
    sound[100::rate] = 0.9
    gatherer = Gatherer(rate)
    gatherer.add(sound)
    gathered = gatherer.finish()
    assert gathered.frames == len(sound) // 2
    for second in range(12):
        first = second * rate // 2
        assert int(np.abs(gathered.part(first, first + 1000)).argmax()) == 50
