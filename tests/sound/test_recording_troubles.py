"""What is wrong with a recording is told, and nothing is told of a good one.

Takes are a soundfont's harmonica with known noise; clipping and saturation are made here.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from recorded_files import coded, wav_of
from soundfont_takes import RATE, Played, Sound, pink_noise, sounded

from reedwright.sound.recording.blocks import whole
from reedwright.sound.recording.model import Trouble, TroubleKind
from reedwright.sound.recording.noisiness import signal_to_noise
from reedwright.sound.recording.opening import open_recording
from reedwright.sound.recording.troubles import Watch

SCALE = (0, 2, 4, 5, 7, 9, 11, 12)


@lru_cache
def playing(seed: int = 3, seconds: float = 12.0, noise_db: float | None = None) -> Sound:
    """Notes at random from a scale, four a second, with a little room."""
    random = np.random.default_rng(seed)
    notes = [
        Played(0.25 * k, 0.25 * k + 0.22, 67.0 + SCALE[int(random.integers(8))])
        for k in range(int(4 * seconds))
    ]
    return sounded(notes, reverberation=0.3, noise_db=noise_db, seed=seed).sound


def full_scale(sound: Sound) -> Sound:
    return (sound / np.abs(sound).max()).astype(np.float32)


def troubles(sound: Sound, size: int = 4_096, rate: int = RATE) -> tuple[Trouble, ...]:
    watch = Watch(rate)
    for first in range(0, len(sound), size):
        watch.add(sound[first : first + size, None])
    return watch.troubles()


def kinds(sound: Sound) -> list[TroubleKind]:
    return [each.kind for each in troubles(sound)]


@pytest.mark.parametrize("noise_db", [None, 40.0, 20.0])
@pytest.mark.parametrize("seed", [3, 4])
def test_a_clean_take_has_no_trouble(seed: int, noise_db: float | None) -> None:
    assert troubles(playing(seed, noise_db=noise_db)) == ()


@pytest.mark.parametrize("noise_db", [10.0, 5.0, 0.0])
def test_heavy_noise_is_told_with_how_heavy_it_is(noise_db: float) -> None:
    (told,) = troubles(playing(3, noise_db=noise_db))
    assert told.kind is TroubleKind.NOISE
    assert "heavy noise nearly all through" in told.message


@pytest.mark.parametrize("noise_db", [30.0, 20.0, 10.0, 5.0])
@pytest.mark.parametrize("seed", [3, 5])
def test_the_estimate_of_noise_is_near_what_was_mixed(seed: int, noise_db: float) -> None:
    found = signal_to_noise(playing(seed, noise_db=noise_db)[: 10 * RATE], RATE)
    assert found == pytest.approx(noise_db, abs=3)


def test_noise_in_a_part_is_told_where_it_is() -> None:
    clean = playing(3, 40.0)
    loud = np.sqrt(np.mean(np.square(clean)))
    noise = pink_noise(12 * RATE, 1)
    sound = clean.copy()
    sound[10 * RATE : 22 * RATE] += noise * loud / np.sqrt(np.mean(np.square(noise)))
    told = [each for each in troubles(full_scale(sound)) if each.kind is TroubleKind.NOISE]
    assert len(told) == 1
    assert told[0].start == pytest.approx(10, abs=0.1) and 19 < told[0].end <= 30.1
    assert "from 0:10.0" in told[0].message


def test_flat_tops_are_clipping_and_loud_round_ones_are_not() -> None:
    sound = full_scale(playing())
    assert kinds(0.999 * sound) == []
    assert kinds(np.clip(1.2 * sound, -1, 1)) == [TroubleKind.CLIPPING]
    # Clipped before the recorder, and at a lower level then.
    assert kinds(0.4 * np.clip(1.5 * sound, -1, 1)) == [TroubleKind.CLIPPING]


def test_a_limiter_or_automatic_gain_is_no_clipping() -> None:
    sound = full_scale(playing())
    saturated = (0.98 * np.tanh(1.5 * sound) / np.tanh(1.5)).astype(np.float32)
    assert kinds(saturated) == []
    envelope = np.convolve(np.abs(sound), np.hanning(4_411) / 2_205, "same") + 0.02
    assert TroubleKind.CLIPPING not in kinds(0.99 * full_scale(sound / envelope))


@pytest.mark.parametrize("hertz", [60, 110, 440, 2_000])
@pytest.mark.parametrize("level", [1.0, 0.3])
def test_a_pure_tone_of_few_bits_is_no_clipping(hertz: int, level: float) -> None:
    tone = level * np.sin(2 * np.pi * hertz * np.arange(2 * RATE) / RATE)
    for steps in (127, 32_767):
        rounded = (np.rint(tone * steps) / steps).astype(np.float32)
        assert TroubleKind.CLIPPING not in kinds(rounded)


@pytest.mark.parametrize("name", ["loud.m4a", "loud.mp3", "loud.opus"])
def test_clipping_is_noticed_through_lossy_coding(name: str, tmp_path: Path) -> None:
    sound = full_scale(playing(seconds=6.0))
    for gain, expected in ((2.0, True), (0.98, False)):
        wav = wav_of(tmp_path, np.clip(gain * sound, -1, 1).astype(np.float32))
        recording = open_recording(coded(wav, name, "-b:a", "96k"))
        watch = Watch(recording.rate)
        whole(recording, watch=watch)
        found = [each.kind for each in watch.troubles()]
        assert (TroubleKind.CLIPPING in found) is expected


def test_clipping_in_one_place_is_told_there() -> None:
    sound = 0.5 * full_scale(playing(3, 20.0))
    sound[8 * RATE : 9 * RATE] = np.clip(4 * sound[8 * RATE : 9 * RATE], -0.9, 0.9)
    (told,) = troubles(sound)
    assert told.start == pytest.approx(8, abs=0.3) and told.end == pytest.approx(9, abs=0.3)
    assert "clipped from 0:0" in told.message


def test_silence_is_told_as_a_whole_and_in_long_stretches() -> None:
    (told,) = troubles(np.zeros(5 * RATE, dtype=np.float32))
    assert told.kind is TroubleKind.SILENCE
    assert (told.start, told.end) == (0, pytest.approx(5))
    assert "silent from beginning to end" in told.message
    quiet = np.zeros(12 * RATE, dtype=np.float32)
    sound = np.concatenate((playing(), quiet, playing()))
    (told,) = troubles(sound)
    start = len(playing()) / RATE
    assert told.kind is TroubleKind.SILENCE
    assert told.end == pytest.approx(start + 12, abs=0.1)
    assert start - 1.5 < told.start < start + 0.1  # from where the room's tail is gone
    assert kinds(np.concatenate((playing(), quiet[: 5 * RATE], playing()))) == []


def test_a_faint_recording_is_told_once() -> None:
    (told,) = troubles((0.004 * full_scale(playing())).astype(np.float32))
    assert told.kind is TroubleKind.SILENCE and "very quiet" in told.message


def test_a_hundred_troubles_are_few_messages() -> None:
    sound = 0.3 * full_scale(playing(3, 60.0))
    for second in range(0, 60, 6):
        part = slice(second * RATE, second * RATE + RATE // 2)
        sound[part] = np.clip(6 * sound[part], -0.9, 0.9)
    watch = Watch(RATE)
    watch.add(sound[:, None])
    for k in range(100):
        watch.note(Trouble(TroubleKind.DAMAGE, k / 10, k / 10 + 0.05, "here"))
    found = watch.troubles()
    assert len(found) <= 4
    assert "damaged in 100 places" in found[0].message and "5.0 s are lost" in found[0].message


def test_how_the_sound_is_cut_up_changes_nothing() -> None:
    sound = np.clip(1.5 * full_scale(playing(noise_db=10.0)), -1, 1).astype(np.float32)
    fine, coarse = ([each.message for each in troubles(sound, size)] for size in (999, 100_000))
    assert fine == coarse != []
