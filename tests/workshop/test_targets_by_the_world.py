"""Targets against tables that others have printed, and against general music libraries."""

import re
from fractions import Fraction

import librosa
import mir_eval
import numpy as np
import pytest
from music21 import chord, interval, pitch

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Harp, Reed, Tuning
from reedwright.harp.temperament import cents
from reedwright.workshop.targets.chord_names import chord_kind, triad_kind
from reedwright.workshop.targets.chords import breath_chord, chord_tuning
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.targets.model import TargetWishes

# Equal-tempered scale at A4 = 440 Hz, CRC Handbook of Chemistry and Physics, table "Frequencies of
# the equal tempered scale" (read as an excerpt), and D. Suits, "Frequencies for equal-tempered
# scale" for D5 to C7.
PRINTED = {
    (1, "blow"): 261.63,  # C4
    (1, "draw"): 293.66,  # D4
    (2, "blow"): 329.63,  # E4
    (3, "blow"): 392.00,  # G4
    (3, "draw"): 493.88,  # B4
    (4, "blow"): 523.25,  # C5
    (4, "draw"): 587.33,  # D5
    (5, "draw"): 698.46,  # F5
    (6, "draw"): 880.00,  # A5
    (7, "blow"): 1046.50,  # C6
    (8, "blow"): 1318.51,  # E6
    (9, "draw"): 1396.91,  # F6
    (10, "draw"): 1760.00,  # A6
}
# Cents as H. Helmholtz and A. Ellis print them, On the Sensations of Tone, appendix XX.
ELLIS = {"5/4": 386.31, "3/2": 701.96, "7/4": 968.83, "6/5": 315.64, "9/8": 203.91, "5/3": 884.36}


def reed(hole, breath):
    return Reed(hole, Breath(breath))


def test_equal_temperament_is_the_printed_table():
    targets = reed_targets(make_harp("C"))
    for (hole, breath), hertz in PRINTED.items():
        assert targets.of(reed(hole, breath)).hz == pytest.approx(hertz, abs=0.0051)


def test_middle_c_has_the_digits_of_the_encyclopedia_of_sequences():
    # OEIS A329207: 261.6255653005986346778499935233... Hz
    assert reed_targets(make_harp("C")).of(reed(1, "blow")).hz == pytest.approx(
        261.6255653005986, abs=1e-11
    )


def test_iso_16_pitch_is_the_draw_reed_of_hole_six():
    # ISO 16:1975: A in the treble stave is 440 Hz; A5 is its octave.
    assert reed_targets(make_harp("C")).of(reed(6, "draw")).hz == pytest.approx(880, abs=1e-9)
    sharp = reed_targets(make_harp("C"), TargetWishes(a4=443))
    assert sharp.of(reed(6, "draw")).hz == pytest.approx(886, abs=1e-9)


def between(targets, low, high):
    """Cents from Hz, by another library: semitones of mir_eval's MIDI scale."""
    midi = mir_eval.util.hz_to_midi(np.array([targets.of(low).hz, targets.of(high).hz]))
    return 100 * (midi[1] - midi[0])


@pytest.mark.parametrize(
    ("temperament", "low", "high", "ratio"),
    [
        ("chords-five", (1, "blow"), (2, "blow"), "5/4"),
        ("chords-five", (1, "blow"), (3, "blow"), "3/2"),
        ("chords-five", (4, "draw"), (5, "draw"), "6/5"),
        ("chords-seven", (2, "draw"), (5, "draw"), "7/4"),
        ("chords-seven", (2, "draw"), (4, "draw"), "3/2"),
        ("chords-seven", (2, "draw"), (3, "draw"), "5/4"),
    ],
)
def test_chords_have_the_textbooks_cents(temperament, low, high, ratio):
    targets = reed_targets(make_harp("C"), TargetWishes(temperament))
    assert between(targets, reed(*low), reed(*high)) == pytest.approx(ELLIS[ratio], abs=0.006)


def test_roles_take_the_ratios_that_librosa_builds_for_the_five_limit():
    # `plimit_intervals` grows the twelve five-limit intervals by harmonic closeness.
    built = librosa.plimit_intervals(primes=[3, 5], bins_per_octave=12)
    for harp in (make_harp("C"), make_harp("A", "natural-minor"), make_harp("D", "harmonic-minor")):
        tuning = chord_tuning(harp, Breath.BLOW, 5)
        for pitch_class, ratio in tuning.ratios.items():
            expected = built[(pitch_class - tuning.chord.root) % 12]
            assert float(ratio) == pytest.approx(expected, rel=1e-12)


def test_draw_chord_sounds_at_the_frequencies_that_librosa_gives_for_its_ratios():
    targets = reed_targets(make_harp("C"), TargetWishes("chords-seven"))
    root = targets.of(reed(2, "draw")).hz
    expected = librosa.interval_frequencies(9, fmin=root, intervals=[1, 9 / 8, 5 / 4, 3 / 2, 7 / 4])
    sounding = [targets.of(reed(hole, "draw")).hz for hole in (2, 3, 4, 5, 6, 7, 8, 9)]
    # Root, third, fifth, seventh, then the ninth and the third and so on an octave up.
    assert sounding == pytest.approx(
        [expected[k] for k in (0, 2, 3, 4, 6, 7, 8)] + [2 * expected[4]]
    )


def test_every_reed_sounds_what_music21_says_of_its_note_and_cents():
    harp = make_harp("Bb", register="low")
    targets = reed_targets(harp, TargetWishes("chords-seven", pressure=4, stretch=1.5))
    for each in targets.reeds:
        for off, hertz in ((each.cents, each.hz), (each.bench_cents, each.bench_hz)):
            said = pitch.Pitch(midi=each.midi)
            said.microtone = off
            assert hertz == pytest.approx(said.frequency, rel=1e-9)


def test_intervals_are_named_as_music21_names_them():
    from reedwright.workshop.targets.intervals import interval_name

    for semitones in range(17):
        named = interval.Interval(semitones).niceName.lower().removeprefix("perfect ")
        if semitones == 6:
            continue  # it names the tritone by its spelling
        assert interval_name(semitones) == named


def test_cents_of_a_ratio_are_music21s():
    for text in ("5/4", "7/4", "3/2", "9/5", "16/15"):
        ratio = Fraction(text)
        above = pitch.Pitch("C4")
        above.frequency = pitch.Pitch("C4").frequency * float(ratio)
        assert cents(ratio) == pytest.approx(100 * (above.ps - 60), abs=1e-4)


@pytest.mark.parametrize(
    "above",
    [
        (4, 7),
        (3, 7),
        (3, 6),
        (4, 8),
        (4, 7, 10),
        (4, 7, 11),
        (3, 7, 10),
        (3, 6, 10),
        (3, 6, 9),
        (4, 8, 10),
        (4, 7, 10, 14),
        (3, 7, 10, 14),
        (4, 7, 11, 14),
    ],
)
def test_chords_are_named_as_music21_names_them(above):
    named = chord.Chord([60, *(60 + each for each in above)]).commonName
    for word in ("dominant", "triad", "chord"):
        named = named.replace(word, "")
    named = " ".join(re.sub(r"(?<!half)-", " ", named).split())
    assert chord_kind({0, *above}) == named
    assert triad_kind((0, *above)) == (named if len(above) == 2 else "")


def test_chords_that_music21_has_no_name_for_by_this_root_are_told_by_their_triad():
    # music21 calls C E G A and C Eb G A sevenths of A; players blow and draw them from C.
    assert chord_kind({0, 4, 7, 9}) == "major sixth"
    assert chord_kind({0, 3, 7, 9}) == "minor sixth"
    assert chord_kind({0, 2, 7}) == "open with ninth"
    assert chord_kind({0, 3, 6, 7}) == "minor"


def test_a_diminished_and_an_augmented_breath_have_their_names():
    # By music21: D F Ab is a diminished triad, C E G# an augmented one, B D F Ab a diminished
    # seventh chord; they were once told by their thirds alone.
    rows = {"D F Ab": "diminished", "C E G#": "augmented", "B D F Ab": "diminished seventh"}
    for notes, kind in rows.items():
        midi = [pitch.Pitch(f"{name.replace('b', '-')}4").midi for name in notes.split()]
        harp = Harp(Tuning("made", "made", "", tuple(midi), tuple(midi)), "C", 0)
        assert breath_chord(harp, Breath.BLOW).title.endswith(kind), notes
        assert breath_chord(harp, Breath.DRAW).title.split(" ", 1)[1] == kind
