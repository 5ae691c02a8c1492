"""Slower, faster, higher, lower: judged by Praat and beside the rubberband command.

The sound is a General MIDI soundfont's harmonica, which can truly be played slower, too.
"""

from __future__ import annotations

import numpy as np
import pytest
from slowdown_measures import (
    by_rubberband,
    detached,
    later,
    log_attack_times,
    onset_flux,
    pitch_errors,
    spectral_convergence,
)
from soundfont_takes import RATE, Played, Sound, sounded

from reedwright.sound import stretching
from reedwright.sound.spool import Spool
from reedwright.sound.stretching import stretch, stretched

# A phrase across the middle of a G harp.
_PITCHES = (62, 67, 71, 74, 79, 76, 72, 69, 67, 67)


def phrase(start: float = 0.2, beat: float = 0.3) -> list[Played]:
    return [
        Played(start + k * beat, start + k * beat + 0.92 * beat, float(midi))
        for k, midi in enumerate(_PITCHES)
    ]


@pytest.fixture(scope="module")
def take() -> Sound:
    return sounded(phrase()).sound


@pytest.fixture(scope="module")
def tongued() -> tuple[list[Played], Sound, Sound]:
    notes = detached(phrase())
    return notes, sounded(notes).sound, sounded(later(notes, 2)).sound


def slow(sound: Sound, speed: float, cents: float = 0.0) -> Sound:
    return stretched(sound[:, None], RATE, speed, cents)[:, 0]


@pytest.mark.parametrize("speed", [0.2, 0.55, 0.8, 1.5])
def test_length_is_exact_to_the_frame(take: Sound, speed: float) -> None:
    short = take[: RATE + 17]
    assert len(slow(short, speed)) == round(len(short) / speed)


@pytest.mark.parametrize(("speed", "cents"), [(0.5, 0.0), (0.7, -11.8), (1.0, -11.8)])
def test_praat_hears_every_note_within_3_cents_of_where_it_is_to_be(
    take: Sound, speed: float, cents: float
) -> None:
    errors = pitch_errors(slow(take, speed, cents), take, phrase(), 1 / speed, cents)
    assert len(errors) >= 9
    assert max(abs(error) for error in errors) < 3
    assert abs(np.median(errors)) < 0.5


def test_it_is_as_near_truly_slower_sound_as_the_rubberband_command(
    take: Sound, tongued: tuple[list[Played], Sound, Sound]
) -> None:
    truth = sounded(later(phrase(), 2)).sound
    for played, true in ((take, truth), tongued[1:]):
        ours = spectral_convergence(slow(played, 0.5), true)
        for engine in ("-2", "-3"):
            assert ours <= spectral_convergence(by_rubberband(played, 2, engine), true)


def test_attacks_are_no_softer_than_the_rubberband_commands(
    tongued: tuple[list[Played], Sound, Sound],
) -> None:
    notes, played, true = tongued
    slowly = later(notes, 2)
    ours = slow(played, 0.5)
    rise, flux = np.mean(log_attack_times(ours, slowly)), np.mean(onset_flux(ours, slowly))
    for engine in ("-2", "-3"):
        theirs = by_rubberband(played, 2, engine)
        assert rise <= np.mean(log_attack_times(theirs, slowly)) + 0.02
        assert flux >= np.mean(onset_flux(theirs, slowly))
    assert rise == pytest.approx(np.mean(log_attack_times(true, slowly)), abs=0.1)


def test_notes_are_where_they_are_to_be(tongued: tuple[list[Played], Sound, Sound]) -> None:
    """Each onset, where the level passes a third of its top, is where the truly slower one is."""
    notes, played, true = tongued
    ours = slow(played, 0.5)
    off = []
    for note in later(notes, 2):
        around = slice(round((note.start - 0.06) * RATE), round((note.start + 0.16) * RATE))
        off.append(_rise(ours[around]) - _rise(true[around]))
    assert np.abs(off).max() < 0.010
    assert abs(np.median(off)) < 0.005


def _rise(sound: Sound) -> float:
    level = np.convolve(sound**2, np.ones(200) / 200, "same")
    return float(np.argmax(level > level.max() / 9)) / RATE


def test_long_sound_in_pieces_has_no_seams(take: Sound, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stretching, "PIECE_SECONDS", 1.4)
    monkeypatch.setattr(stretching, "_REACH", 0.3)
    monkeypatch.setattr(stretching, "_CONTEXT", 0.4)
    sound = np.stack([take, 0.5 * take], axis=1)
    with Spool(2) as source, Spool(2) as target:
        source.add(sound)
        stretch(source, target, RATE, 0.6, -11.8)
        pieces = target.read(0, len(target))
    whole = stretched(sound, RATE, 0.6, -11.8)
    assert pieces.shape == whole.shape
    assert spectral_convergence(pieces[:, 0], whole[:, 0]) < 0.1
    # No click: nowhere does the wave jump as it does not in the whole.
    assert np.abs(np.diff(pieces[:, 0])).max() <= 1.2 * np.abs(np.diff(whole[:, 0])).max()
    # Both channels go the same way, so that the picture stays.
    assert np.abs(pieces[:, 1] - 0.5 * pieces[:, 0]).max() < 0.01 * np.abs(pieces).max()


def test_pieces_of_a_held_note_are_joined_where_their_waves_match(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """No silence to cut in: joined out of phase, the level would sink at the seam."""
    monkeypatch.setattr(stretching, "PIECE_SECONDS", 1.0)
    monkeypatch.setattr(stretching, "_REACH", 0.2)
    time = np.arange(4 * RATE) / RATE
    tone = sum(np.sin(2 * np.pi * 293.7 * k * time + k) / k for k in (1, 2, 3)) / 3
    with Spool(1) as source, Spool(1) as target:
        source.add(np.asarray(tone, dtype=np.float32)[:, None])
        stretch(source, target, RATE, 0.7)
        made = target.read(RATE // 2, len(target) - RATE // 2)[:, 0]
    level = np.sqrt(np.convolve(made**2, np.ones(441) / 441, "valid"))
    assert 20 * np.log10(level.max() / level.min()) < 1.5


def test_a_steady_tone_is_left_as_the_engine_makes_it() -> None:
    """No attack, no gain: vibrato of 6 Hz and 3 dB is music, and stays."""
    time = np.arange(3 * RATE) / RATE
    tone = np.sin(2 * np.pi * 440 * time) * (1 + 0.17 * np.sin(2 * np.pi * 6 * time))
    made = slow(tone.astype(np.float32), 0.5)[RATE:-RATE]
    level = np.sqrt(np.convolve(made**2, np.ones(400) / 400, "valid"))
    assert 20 * np.log10(level.max() / level.min()) == pytest.approx(2.98, abs=0.4)


def test_silence_and_nothing_at_all_can_be_stretched() -> None:
    assert not stretched(np.zeros((RATE, 2), np.float32), RATE, 0.5).any()
    assert stretched(np.zeros((0, 1), np.float32), RATE, 0.5).shape == (0, 1)
