"""Beat rates against tables and hand-worked examples of piano tuning."""

import numpy as np
import pytest

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Harp, Reed, Tuning
from reedwright.harp.naming import parse_note
from reedwright.workshop.targets.beats import beats_of
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.targets.model import TargetWishes

# S. Teki, S. Kumar and others, "Navigating the auditory scene", Journal of Neuroscience 32(35),
# 2012, table 1, after B. Capleton, Theory and Practice of Piano Tuning, 2007: beats a second in
# equal temperament at A4 = 440, lower note from F3 up (read as an excerpt).
PRINTED = {
    4: {"F3": 6.9, "F#3": 7.3, "G3": 7.8, "Ab3": 8.2, "A3": 8.7, "Bb3": 9.2, "B3": 9.8}
    | {"C4": 10.4, "C#4": 11.0, "D4": 11.7, "Eb4": 12.3},
    5: {"F3": 0.8, "F#3": 0.8, "G3": 0.9, "G#3": 0.9, "A3": 1.0, "A#3": 1.1, "B3": 1.1}
    | {"C4": 1.2, "C#4": 1.3, "D4": 1.3},
    7: {"F3": 0.6, "F#3": 0.6, "G3": 0.7, "G#3": 0.7, "A3": 0.7, "Bb3": 0.8, "B3": 0.8, "C4": 0.9},
    9: {"F3": 7.9, "F#3": 8.4, "G3": 8.9, "Ab3": 9.4, "A3": 10.0, "Bb3": 10.6},
    3: {"F3": 9.4, "F#3": 10.0, "G3": 10.6, "G#3": 11.2, "A3": 11.9, "A#3": 12.6, "B3": 13.3}
    | {"C4": 14.1},
    8: {"F3": 11.0, "F#3": 11.7, "G3": 12.3, "Ab3": 13.1, "A3": 13.9, "A#3": 14.7, "B3": 15.6},
}


def blown(*notes):
    """A harp that blows these notes, holes 1 and up, and draws the same."""
    midi = tuple(parse_note(note) if isinstance(note, str) else note for note in notes)
    return Harp(Tuning("made", "made", "", midi, midi), "C", 0)


def pair(harp, wishes=None, holes=(1, 2)):
    targets = reed_targets(harp, wishes)
    return beats_of(targets, *(Reed(hole, Breath.BLOW) for hole in holes))


@pytest.mark.parametrize("semitones", PRINTED)
def test_equal_tempered_intervals_beat_as_the_tuners_table_says(semitones):
    for note, rate in PRINTED[semitones].items():
        low = parse_note(note)
        assert pair(blown(low, low + semitones)).beats == pytest.approx(rate, abs=0.06), note


def test_the_third_on_middle_c_beats_10_38_times():
    # B. Capleton, page on beat rates of major thirds: "'traditional' tuning theory gives a beat
    # rate of 10.38 Hz" for C4-E4. By hand: 4 x 329.628 - 5 x 261.626 = 1318.51 - 1308.13 = 10.38.
    found = pair(make_harp("C"))
    assert found.partials == (5, 4)
    assert found.rate == pytest.approx(10.38, abs=0.005)


def test_fifths_are_narrow_and_thirds_and_fourths_wide_in_equal_temperament():
    # The same table: fifths narrow, fourths and major thirds wide. By hand, C4-G4:
    # 2 x 391.995 - 3 x 261.626 = 783.99 - 784.88 = -0.89.
    assert pair(make_harp("C"), holes=(1, 3)).rate == pytest.approx(-0.886, abs=0.001)
    assert pair(make_harp("C"), holes=(3, 4)).rate > 0
    assert pair(make_harp("C"), holes=(2, 3)).rate < 0


def test_a_stretched_octave_beats_as_worked_out_by_hand():
    # C4-C5 stretched by 2 cents with home on C5: C4 is 2 cents low, C5 where it was.
    # 523.2511 - 2 x 261.6256 x 2^(-2/1200) = 523.2511 - 522.6470 = 0.6041.
    found = pair(make_harp("C"), TargetWishes(stretch=2), (1, 4))
    assert found.partials == (2, 1)
    assert found.rate == pytest.approx(0.6041, abs=0.0005)


def test_a_unison_ten_cents_apart_beats_as_worked_out_by_hand(tmp_path):
    # A4 = 440 Hz against 440 x 2^(10/1200) = 442.549: 2.549 beats.
    table = tmp_path / "apart.toml"
    table.write_text('title = "apart"\nblow = "0 10"\ndraw = "0 0"\n')
    found = pair(blown("A4", "A4"), TargetWishes(table))
    assert (found.partials, found.rate) == ((1, 1), pytest.approx(2.549, abs=0.001))


def test_beats_at_the_bench_are_quicker_by_the_offset_for_pressure():
    # 12 cents are a ratio of 2^(12/1200) = 1.006956: 10.382 becomes 10.454.
    found = pair(make_harp("C"), TargetWishes(pressure=12))
    assert found.rate == pytest.approx(10.382, abs=0.001)
    assert found.bench_rate == pytest.approx(10.454, abs=0.001)


@pytest.mark.parametrize(
    ("temperament", "breath", "holes"),
    [
        ("equal", "blow", (1, 3)),
        ("equal", "blow", (1, 2)),
        ("compromise", "draw", (2, 3)),
        ("just", "draw", (4, 6)),
    ],
)
def test_tones_of_these_pitches_swell_at_the_rate_that_is_told(temperament, breath, holes):
    """Two tones of eight partials are summed; the loudness where two meet is counted in time."""
    targets = reed_targets(make_harp("C"), TargetWishes(temperament))
    one, other = (Reed(hole, Breath(breath)) for hole in holes)
    told = beats_of(targets, one, other)
    rate, seconds = 8000, 16
    time = np.arange(rate * seconds) / rate
    tones = sum(
        np.cos(2 * np.pi * k * targets.of(reed).hz * time + reed.hole * k)
        for reed in (one, other)
        for k in range(1, 9)
    )
    # Only what lies about the meeting partials is let through; its envelope is the beating.
    meeting = told.partials[0] * targets.of(told.lower).hz
    spectrum = np.fft.fft(tones * np.hanning(len(time)))
    frequencies = np.fft.fftfreq(len(time), 1 / rate)
    spectrum[np.abs(frequencies - meeting) > 25] = 0
    power = np.abs(np.fft.ifft(spectrum)) ** 2
    swell = np.abs(np.fft.rfft(power - power.mean(), 8 * len(power)))
    found = np.fft.rfftfreq(8 * len(power), 1 / rate)
    swell[found < 0.4] = 0  # the window's own rise and fall
    assert found[np.argmax(swell)] == pytest.approx(told.beats, abs=0.02)
