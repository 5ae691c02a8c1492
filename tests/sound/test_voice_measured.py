"""The reed voice measured: pitch, aliasing, clicks, noise, sameness."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import numpy.typing as npt
import pytest
from sounding_tunes import AIR, HORNPIPE, cents, example, from_abc, pitch_of

from reedwright.harp.making import make_harp
from reedwright.harp.model import Sounding
from reedwright.sound.events import Onset, SoundedNote, Span
from reedwright.sound.reed import render_note
from reedwright.sound.timing import plan
from reedwright.sound.voice import RATE, Parts, render

BARE = Parts(breath=False, vibrato=False, drift=False, room=False)


def long_note(sounding: Sounding, seconds: float = 1.6) -> SoundedNote:
    frequency = 440.0 * 2 ** ((sounding.midi - 69) / 12)
    return SoundedNote(
        "n", sounding.midi, frequency, Span(0.0, seconds), sounding, False, True, 0.84,
        Onset.TONGUED, False, (Fraction(0), Fraction(4)),
        100.0 * sounding.bend, 0.09 if sounding.bend else 0.0,
    )  # fmt: skip


@pytest.mark.parametrize(
    "tune, speed", [(AIR, 1.0), (HORNPIPE, 0.55)], ids=["air", "slow hornpipe"]
)
def test_a_tracker_finds_every_long_note_of_a_tune_within_5_cents(tune: int, speed: float) -> None:
    timeline = plan(example(tune), speed=speed)
    sound = render(timeline).mean(axis=1)
    tried = 0
    for note in timeline.notes[:90]:
        if note.is_grace or note.seconds <= 0.15:
            continue
        start = note.span.start + max(0.05, note.glide_time + 0.02)
        held = sound[round(start * RATE) : round((note.span.end - 0.005) * RATE)]
        # ISO 16: A4 is 440 Hz; equal temperament.
        wanted = 440.0 * 2 ** ((note.midi - 69) / 12)
        assert abs(cents(pitch_of(held, RATE), wanted)) < 5, (note.id, note.midi)
        tried += 1
    assert tried > 25


def test_bends_and_overblows_arrive_within_5_cents() -> None:
    for sounding in make_harp("C").soundings:
        sound = render_note(long_note(sounding, 0.6), 7)
        held = sound[round(0.15 * RATE) : round(0.6 * RATE)]
        wanted = 440.0 * 2 ** ((sounding.midi - 69) / 12)
        assert abs(cents(pitch_of(held, RATE), wanted)) < 5, sounding


def test_a_bend_glides_from_the_reed() -> None:
    sounding = next(s for s in make_harp("C").soundings if s.bend == 1 and s.hole == 4)
    sound = render_note(long_note(sounding, 0.6), 1, BARE)
    early = pitch_of(sound[round(0.004 * RATE) : round(0.030 * RATE)], RATE)
    assert 60 < cents(early, 440.0 * 2 ** ((sounding.midi - 69) / 12)) < 110


def outside_partials(sound: npt.NDArray[np.float32], frequency: float) -> float:
    """Energy that is not at a partial, in dB below all of it."""
    power = np.abs(np.fft.rfft(sound * np.kaiser(len(sound), 14))) ** 2
    hertz = np.fft.rfftfreq(len(sound), 1 / RATE)
    away = np.abs(hertz - np.round(hertz / frequency) * frequency)
    return float(10 * np.log10(power[(away > 20) | (hertz < frequency / 2)].sum() / power.sum()))


def test_no_note_of_any_harp_aliases_above_minus_60_db() -> None:
    worst = {}
    for key, register in (("G", "low"), ("C", "ordinary"), ("F#", "ordinary"), ("D", "high")):
        for sounding in make_harp(key, register=register).soundings:
            note = replace(long_note(sounding), velocity=1.0)
            held = render_note(note, 3, BARE)[round(0.7 * RATE) : round(1.5 * RATE)]
            worst[sounding.midi] = outside_partials(held, note.frequency)
    assert max(worst) >= 100  # E7 and beyond
    assert max(worst.values()) < -60, worst


def test_a_glide_of_the_highest_bend_stays_under_half_the_sample_rate() -> None:
    bends = [s for s in make_harp("D", register="high").soundings if s.bend]
    highest = max(bends, key=lambda s: s.midi)
    glide = render_note(long_note(highest, 0.6), 3, BARE)[: round(0.1 * RATE)]
    power = np.abs(np.fft.rfft(glide * np.kaiser(len(glide), 14))) ** 2
    hertz = np.fft.rfftfreq(len(glide), 1 / RATE)
    below = power[hertz < 0.8 * 440 * 2 ** ((highest.midi - 69) / 12)].sum()
    assert 10 * np.log10(below / power.sum()) < -60


def test_there_are_no_clicks_between_notes() -> None:
    timeline = plan(from_abc("c2(ce){f}eg ag|ccgg c'c _BA|"), count_in=False)
    sound = render(timeline, Parts(breath=False, room=False))[:, 0]
    # A click is a bend in the wave sharper than the wave's own.
    edge = np.abs(np.diff(sound, 2))
    inside = np.zeros(len(edge), dtype=bool)
    for note in timeline.notes:
        middle = note.span.start + np.array([0.5, 0.9]) * note.seconds
        inside[slice(*np.round(middle * RATE).astype(int))] = True
    assert edge[~inside].max() < 1.6 * edge[inside].max()


def test_the_sound_is_as_long_as_the_timeline_to_the_frame_and_always_the_same() -> None:
    timeline = plan(from_abc("c2d2e2f2|g8|]"))
    sound = render(timeline)
    assert sound.shape == (round(timeline.duration * RATE), 2)
    assert sound.dtype == np.float32
    assert np.array_equal(sound, render(timeline))
    assert not np.array_equal(sound[:, 0], sound[:, 1])  # it stands in a room


def test_low_blow_notes_are_breathier_without_valves() -> None:
    def noise(valves: str) -> float:
        timeline = plan(from_abc("c8|", harp="C", valves=valves, key="C"), count_in=False)
        note = timeline.notes[0]
        # The harp's lowest blow note, as this harp's reed would sound it.
        harp = make_harp("C", valves=valves)
        low = replace(long_note(harp.soundings[0]), isolated=bool(harp.isolated))
        assert note.isolated is bool(harp.isolated)
        held = render_note(low, 5, Parts(vibrato=False, drift=False, room=False))
        return outside_partials(held[round(0.7 * RATE) : round(1.5 * RATE)], low.frequency)

    assert noise("none") > noise("half") + 8


def test_louder_notes_are_brighter_and_bends_darker() -> None:
    def brightness(note: SoundedNote) -> float:
        held = render_note(note, 1, BARE)[round(0.3 * RATE) : round(1.5 * RATE)]
        power = np.abs(np.fft.rfft(held * np.hanning(len(held)))) ** 2
        return float((power * np.fft.rfftfreq(len(held), 1 / RATE)).sum() / power.sum())

    harp = make_harp("C")
    plain = next(s for s in harp.soundings if s.hole == 3 and s.midi == 71)
    bent = next(s for s in harp.soundings if s.hole == 3 and s.bend == 1)
    loud = replace(long_note(plain), velocity=1.0)
    assert brightness(loud) > 1.1 * brightness(replace(loud, velocity=0.5))
    assert brightness(long_note(bent)) < 0.9 * brightness(long_note(plain))


def test_a_missing_note_is_sounded_all_the_same() -> None:
    arrangement = from_abc("c2 ^C2 =c4|", player="first-year")
    assert arrangement.missing
    timeline = plan(arrangement, count_in=False)
    assert [note.midi for note in timeline.notes] == [72, 61, 72]
