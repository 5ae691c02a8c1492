"""Keys are estimated by the published method; what is added to it is checked apart."""

import pytest
from handmade_tunes import tune_of
from hypothesis import given, settings
from hypothesis import strategies as st

from reedwright.tune.keyfinding import (
    MAJOR_PROFILE,
    MINOR_PROFILE,
    correlations,
    estimate_key,
    key_in_signature,
    key_of_notes,
)


def test_correlations_agree_with_music21s_krumhansl_kessler() -> None:
    # Outside source: music21's KrumhanslKessler key analysis. Its tables differ from the
    # printed ones in a digit, so keys must agree and correlations come within 0.01.
    from music21 import analysis, note, stream

    melodies = ["CDEFGABcGEC4", "ABcdefaAEA4", "DEFGABcdAFD4", "GABcdBGdgG4", "EFGABcBAGE4"]
    for melody in melodies:
        notes = tune_of(melody + "|").bars[0].notes
        weights = [0.0] * 12
        part = stream.Stream()
        for written in notes:
            weights[written.pitch.midi % 12] += float(written.length)
            part.append(note.Note(written.pitch.midi, quarterLength=float(written.length)))
        theirs = analysis.discrete.KrumhanslKessler(part).getSolution(part)
        best = correlations(weights)[0]
        assert (best[1], best[2]) == (theirs.tonic.pitchClass, theirs.mode), melody
        assert best[0] == pytest.approx(theirs.correlationCoefficient, abs=0.01)


def test_each_profile_correlates_fully_with_its_own_key() -> None:
    for mode, profile in (("major", MAJOR_PROFILE), ("minor", MINOR_PROFILE)):
        for tonic in range(12):
            weights = [profile[(pc - tonic) % 12] for pc in range(12)]
            best = correlations(weights)[0]
            assert best[1:] == (tonic, mode)
            assert best[0] == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("melody", "name"),
    [
        ("CDEFGABcGECDEC4", "C major"),
        ("ABcdecAGAEGABA4", "A minor"),
        ("DEFDAFDABcBAFEDCDFAD4", "D dorian"),  # B natural is the sixth
        ("GABGdBGFGABcdFGABG4", "G mixolydian"),  # F natural is the seventh
    ],
)
def test_modes_are_told_apart_by_their_telling_step(melody: str, name: str) -> None:
    estimate = estimate_key(tune_of(melody + "|"))
    assert estimate is not None
    assert estimate.key.name == name
    assert estimate.key.estimated
    assert -1 <= estimate.runner_up_correlation <= 1


def test_nothing_sounding_or_all_alike_gives_no_estimate() -> None:
    assert estimate_key(tune_of("z4|")) is None
    assert key_of_notes([(60 + k, 1.0) for k in range(12)]) is None


@pytest.mark.parametrize(
    ("fifths", "last", "name"),
    [
        (0, 60, "C major"),
        (0, 69, "A minor"),
        (0, 62, "D dorian"),
        (0, 67, "G mixolydian"),
        (2, 64, "E dorian"),
        (-3, 60, "C minor"),
        (0, 71, "C major"),
    ],
)
def test_a_known_signature_gets_the_mode_of_the_last_note(
    fifths: int, last: int, name: str
) -> None:
    scale = [(60 + 7 * k, 1.0) for k in (0, 0, 1, 4)]
    key = key_in_signature(fifths, scale, last)
    assert (key.name, key.fifths, key.estimated) == (name, fifths, True)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 127), st.floats(0.1, 8)), min_size=1, max_size=20),
    st.integers(1, 11),
)
def test_moving_all_notes_moves_the_key_as_far(
    notes: list[tuple[int, float]], semitones: int
) -> None:
    here = key_of_notes(notes, notes[-1][0])
    moved = key_of_notes([(m + semitones, d) for m, d in notes], notes[-1][0] + semitones)
    assert (here is None) == (moved is None)
    if here and moved and here.correlation - here.runner_up_correlation > 1e-6:
        assert moved.key.mode == here.key.mode
        expected = (here.key.tonic_pitch_class + semitones) % 12
        assert moved.key.tonic_pitch_class == expected
        assert abs(moved.key.fifths) <= 6
