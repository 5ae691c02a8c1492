"""Tones of reeds whose pitch is known: found where they are, and measured beside Praat."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_reeds import RATE, MadeReed, Sound, laid, pink
from reed_judges import (
    alone,
    any_reed,
    by_praat,
    cents,
    ends,
    heard,
    in_a_room,
    in_a_row,
)
from soundfont_takes import write_wav

from reedwright.errors import ReedwrightError
from reedwright.sound.recording.model import Trouble, TroubleKind, UnreadableRecording
from reedwright.workshop.measuring.listening import NoReedHeard, ReedListener, listen_to_reeds
from reedwright.workshop.measuring.model import Tone

NOISE = 30.0  # dB under the tone, as the issue asks


def one(sound: Sound, rate: int = RATE) -> Tone:
    tones = heard(sound, rate)
    assert len(tones) == 1, tones
    return tones[0]


def test_a_second_of_any_reed_is_known_within_half_a_cent_and_better_than_by_praat() -> None:
    """The issue's bounds: 0.5 cent in the median, 1 at worst. Reference: Praat in parselmouth."""
    random = np.random.default_rng(411)
    ours, praat = [], []
    # From an octave under the low G harp's first hole to the high A harp's last.
    for k, midi in enumerate(np.linspace(40, 105, 9) + random.uniform(-0.5, 0.5, 9)):
        hz = float(440 * 2 ** ((midi - 69) / 12))
        sound = alone(any_reed(random, hz, 1.0), RATE, NOISE, k)
        tone = one(sound)
        assert tone.upper_hz == 0
        assert tone.start == pytest.approx(0.2, abs=0.03)
        assert tone.end == pytest.approx(1.2, abs=0.03)
        ours.append(abs(cents(tone.hz, hz)))
        praat.append(abs(cents(by_praat(sound, RATE, 0.2, 1.2, hz), hz)))
    assert np.median(ours) < 0.5
    assert max(ours) < 1.0
    assert np.median(ours) <= np.median(praat)
    assert max(ours) <= max(praat)


def test_three_tenths_of_a_second_are_known_within_two_cents_and_errors_are_honest() -> None:
    random = np.random.default_rng(412)
    ratios = []
    for k in range(30):
        hz = float(100 * 2 ** random.uniform(0, 5))
        tone = one(alone(any_reed(random, hz, 0.3), RATE, NOISE, k))
        assert abs(cents(tone.hz, hz)) < 2
        ratios.append(cents(tone.hz, hz) / tone.uncertainty)
    off = np.abs(ratios)
    # A normal distribution has 0.68 and 0.95; 30 draws of it stay within these.
    assert 0.5 < np.mean(off < 1) < 0.95
    assert np.mean(off < 2) > 0.8
    assert np.mean(off < 4) > 0.9


def test_noise_makes_the_error_larger_and_it_is_told() -> None:
    loud, faint = (one(alone(MadeReed(329.63, 0.5), RATE, noise, 3)) for noise in (40.0, 14.0))
    assert faint.uncertainty > 2 * loud.uncertainty
    assert loud.noise - faint.noise == pytest.approx(26, abs=3)


def test_reeds_in_a_row_are_all_found_and_none_twice() -> None:
    """With pauses of 0.1 to 0.5 s and with none; the same reed twice after 0.15 s is two tones."""
    random = np.random.default_rng(413)
    for k in range(2):
        row = in_a_row(random, 9, (0.0, 0.1, 0.15, 0.3, 0.5), (0.3, 0.6))
        tones = heard(laid(row, ends(row), NOISE, k), RATE)
        assert len(tones) == len(row)
        for (start, reed), tone in zip(row, tones, strict=True):
            assert tone.start == pytest.approx(start, abs=0.03)
            assert tone.end == pytest.approx(start + reed.seconds, abs=0.03)
            assert abs(cents(tone.hz, reed.hz)) < 1
    for rise in (0.01, 0.05):
        twice = [(start, MadeReed(392.0, 0.5, rise=rise)) for start in (0.2, 0.85)]
        assert len(heard(laid(twice, 1.8, NOISE), RATE)) == 2


def test_in_a_room_each_reed_is_one_tone_and_its_tail_none() -> None:
    random = np.random.default_rng(414)
    row = in_a_row(random, 6, (0.0, 0.3), (0.6, 1.0))
    sound = in_a_room(laid(row, ends(row), None), RATE, 0.6, 5) + laid([], ends(row), NOISE, 6)
    tones = heard(sound, RATE)
    assert len(tones) == len(row)
    for (start, reed), tone in zip(row, tones, strict=True):
        assert tone.start == pytest.approx(start, abs=0.03)
        assert abs(cents(tone.hz, reed.hz)) < 0.5
        assert tone.upper_hz == 0


def test_what_still_rings_in_the_room_is_no_second_reed() -> None:
    row = [(0.3, MadeReed(392.0, 0.5)), (0.8, MadeReed(659.3, 0.5)), (1.3, MadeReed(293.7, 0.5))]
    sound = in_a_room(laid(row, 2.5, None), RATE, 1.2, 7, under=2.0) + laid([], 2.5, NOISE, 8)
    tones = heard(sound, RATE)
    assert [round(tone.hz) for tone in tones] == [392, 659, 294]
    assert all(tone.upper_hz == 0 for tone in tones)


def test_all_partials_help_where_there_is_much_noise() -> None:
    """At 10 dB the first partial alone leaves about three times the error."""
    off = []
    for k in range(6):
        sound = laid([(0.2, MadeReed(150.0 + 20 * k, 0.6))], 1.2, 10.0, k)
        off.append(cents(one(sound).hz, 150.0 + 20 * k))
    assert np.sqrt(np.mean(np.square(off))) < 0.06


def test_a_pitch_that_moves_is_told_by_its_mean_and_its_wander() -> None:
    steady = one(laid([(0.2, MadeReed(440.0, 2.0))], 2.6))
    moved = one(laid([(0.2, MadeReed(440.0, 2.0, vibrato=20.0))], 2.6))
    drifted = one(laid([(0.2, MadeReed(440.0, 2.0, drift=10.0))], 2.6))
    assert steady.wander < 0.3
    # A sine of 20 cents has a standard deviation of 20 / sqrt 2, a line of 10 one of 10 / sqrt 12.
    assert moved.wander == pytest.approx(14.1, rel=0.15)
    assert drifted.wander == pytest.approx(2.9, rel=0.15)
    for tone in (moved, drifted):
        assert abs(cents(tone.hz, 440.0)) < min(1.0, 3 * tone.uncertainty)
        assert tone.uncertainty > 10 * steady.uncertainty
        assert tone.upper_hz == 0


@pytest.mark.parametrize("rise", [0.02, 0.06])
def test_attack_is_the_time_from_a_tenth_to_nine_tenths(rise: float) -> None:
    """Of 1 - exp(-t / rise), that is rise * ln 9; higher partials come a little later."""
    tone = one(laid([(0.2, MadeReed(330.0, 1.0, rise=rise, bright=2.5, scoop=0.0))], 1.6))
    assert tone.attack == pytest.approx(rise * np.log(9) * 1.1, rel=0.2)


def test_level_is_that_of_the_held_part() -> None:
    tone = one(laid([(0.2, MadeReed(262.0, 1.0, level=0.1))], 1.6, 40.0))
    assert tone.level == pytest.approx(-20.0, abs=0.3)


def in_noise(sound: np.ndarray) -> Sound:
    return (sound + 0.002 * pink(len(sound), 9)).astype(np.float32)


def hiss(seconds: float) -> Sound:
    return 0.1 * pink(round(seconds * RATE), 4)


def clicks(seconds: float) -> Sound:
    sound = np.zeros(round(seconds * RATE))
    sound[:: RATE // 3] = 0.9
    return in_noise(sound)


def knocks(seconds: float) -> Sound:
    time = np.arange(round(0.08 * RATE)) / RATE
    knock = np.sin(2 * np.pi * 900 * time) * np.exp(-time / 0.008)
    sound = np.zeros(round(seconds * RATE))
    for first in range(0, len(sound) - len(knock), RATE // 2):
        sound[first : first + len(knock)] += knock
    return in_noise(sound)


def hum(seconds: float) -> Sound:
    time = np.arange(round(seconds * RATE)) / RATE
    buzz = sum(0.003 / k * np.sin(2 * np.pi * 50 * k * time + k) for k in range(1, 8))
    return (buzz + 0.0003 * pink(len(time), 9)).astype(np.float32)


def talk(seconds: float) -> Sound:
    """Syllables of gliding pitch through three resonances each, as vowels are (a textbook's
    source and filter)."""
    from scipy.signal import lfilter

    random = np.random.default_rng(2)
    found: list[np.ndarray] = []
    while sum(map(len, found)) < seconds * RATE:
        count = round(random.uniform(0.08, 0.35) * RATE)
        time = np.arange(count) / count
        glide = random.uniform(-5, 5) * time + random.uniform(-2, 2) * np.sin(3 * time)
        turns = np.cumsum(random.uniform(90, 240) * 2 ** (glide / 12)) / RATE
        voice = np.diff(np.floor(turns), prepend=0) + 0.05 * random.standard_normal(count)
        for hz in (random.uniform(300, 800), random.uniform(900, 2200), 2_600.0):
            radius = np.exp(-np.pi * 90 / RATE)
            turn = 2 * radius * np.cos(2 * np.pi * hz / RATE)
            voice = lfilter([1], [1, -turn, radius**2], voice)
        found.append(0.3 * np.sqrt(np.sin(np.pi * time)) * voice / np.abs(voice).max())
        found.append(np.zeros(round(random.uniform(0.02, 0.2) * RATE)))
    return in_noise(np.concatenate(found))


@pytest.mark.parametrize("kind", [hiss, clicks, knocks, hum, talk])
def test_what_is_no_reed_gives_no_tone(kind: object) -> None:
    assert heard(kind(5.0), RATE) == ()  # type: ignore[operator]


def test_reeds_are_found_beside_hum_and_rumble() -> None:
    row = [(0.5, MadeReed(196.0, 0.6)), (1.4, MadeReed(98.0, 0.6))]
    time = np.arange(round(2.5 * RATE)) / RATE
    rumble = 0.2 * np.sin(2 * np.pi * 13 * time) + 0.1
    tones = heard((laid(row, 2.5) + hum(2.5) + rumble).astype(np.float32), RATE)
    assert [round(tone.hz) for tone in tones] == [196, 98]


@settings(max_examples=4, deadline=None)
@given(sizes=st.lists(st.integers(50, 30_000), min_size=1, max_size=6))
def test_how_sound_is_cut_into_blocks_makes_no_difference(sizes: list[int]) -> None:
    whole = ReedListener(RATE)
    expected = (*whole.feed(_SOME), *whole.finish())
    assert len(expected) == 3
    listener = ReedListener(RATE)
    tones: list[Tone] = []
    first = k = 0
    while first < len(_SOME):
        size = sizes[k % len(sizes)] if k < 200 else len(_SOME)
        tones += listener.feed(_SOME[first : first + size])
        first, k = first + size, k + 1
    assert (*tones, *listener.finish()) == expected


_SOME = laid(
    [(0.2, MadeReed(440.0, 0.4)), (0.6, MadeReed(523.0, 0.4)), (1.15, MadeReed(523.0, 0.4))], 1.9
)


def test_what_sounds_now_is_known_while_it_sounds() -> None:
    sound = laid([(0.2, MadeReed(311.0, 1.5))], 2.4)
    listener = ReedListener(RATE)
    seen = []
    for first in range(0, len(sound), RATE // 10):
        listener.feed(sound[first : first + RATE // 10])
        seen.append(listener.now())
    assert seen[0] is None
    assert seen[-1] is None
    live = [each for each in seen if each is not None]
    assert len(live) > 10
    assert all(abs(cents(each.hz, 311.0)) < 1 for each in live)
    assert live[9].uncertainty < live[0].uncertainty
    assert live[9].seconds == pytest.approx(live[0].seconds + 0.9, abs=0.01)


def test_a_tone_that_is_held_for_long_is_one_and_is_not_kept_in_memory() -> None:
    listener = ReedListener(RATE)
    part = laid([(0.0, MadeReed(220.0, 2.5))], 2.5, NOISE)[RATE : 2 * RATE]
    # Whole swings, so that the parts join: 220 in a second.
    tones: list[Tone] = []
    kept = 0
    for _ in range(50):
        tones += listener.feed(part)
        kept = max(kept, listener.kept)
    tones += listener.finish()
    assert len(tones) == 1
    assert tones[0].seconds == pytest.approx(50, abs=0.1)
    assert abs(cents(tones[0].hz, 220.0)) < 0.1
    assert kept < 45 * RATE


def test_odd_input_is_no_trouble() -> None:
    assert ReedListener(RATE).finish() == ()
    assert heard(np.zeros(3, dtype=np.float32), RATE) == ()
    sound = laid([(0.2, MadeReed(440.0, 0.5))], 1.0)
    sound[100:200] = np.nan
    sound[-100:] = np.inf
    assert abs(cents(one(sound).hz, 440.0)) < 1
    with pytest.raises(ReedwrightError, match="8000"):
        ReedListener(8_000)


def test_a_recording_is_listened_to_as_its_sound_is(tmp_path: Path) -> None:
    row = [(0.4, MadeReed(294.0, 0.8)), (1.5, MadeReed(587.0, 0.8)), (1.5, MadeReed(739.0, 0.8))]
    path = write_wav(tmp_path / "reeds.wav", laid(row, 3.0, rate=44_100), 44_100)
    shares: list[float] = []
    first, second = listen_to_reeds(path, lambda share, doing: shares.append(share))
    assert abs(cents(first.hz, 294.0)) < 0.5
    assert abs(cents(second.hz, 587.0)) < 0.5
    assert abs(cents(second.upper_hz, 739.0)) < 0.5
    assert shares == sorted(shares)
    assert shares[-1] == 1


def test_a_clipped_recording_is_measured_and_told_of(tmp_path: Path) -> None:
    sound = laid([(0.4, MadeReed(294.0, 1.0))], 2.0)
    sound = np.clip(sound * np.float32(2 / np.abs(sound).max()), -1, 1)
    told: list[Trouble] = []
    (tone,) = listen_to_reeds(write_wav(tmp_path / "loud.wav", sound, RATE), trouble=told.append)
    assert abs(cents(tone.hz, 294.0)) < 0.5
    assert [each.kind for each in told] == [TroubleKind.CLIPPING]


def test_recordings_without_reeds_are_refused_in_words(tmp_path: Path) -> None:
    silent = write_wav(tmp_path / "silent.wav", np.zeros(12 * RATE, dtype=np.float32), RATE)
    with pytest.raises(NoReedHeard, match="silent"):
        listen_to_reeds(silent)
    with pytest.raises(NoReedHeard, match="no reed is heard"):
        listen_to_reeds(write_wav(tmp_path / "hiss.wav", hiss(2.0), RATE))
    empty = tmp_path / "empty.wav"
    empty.write_bytes(b"")
    with pytest.raises(UnreadableRecording, match="empty"):
        listen_to_reeds(empty)
    with pytest.raises(UnreadableRecording, match="no such file"):
        listen_to_reeds(tmp_path / "none.wav")
