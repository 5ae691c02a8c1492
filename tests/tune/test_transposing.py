"""A transposed tune sounds exactly as far away and is spelled as its key asks."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.transpose import OutOfRange, transposed
from reedwright.tune.unfold import unfold

EXAMPLES = Path(__file__).parents[2] / "examples" / "tunes.abc"
TUNES = [t for t in read_abc(EXAMPLES.read_text(encoding="utf-8")) if isinstance(t, Tune)]


def one(body: str, key: str = "C") -> Tune:
    tune = read_abc(f"X:1\nT:t\nM:4/4\nL:1/4\nK:{key}\n{body}\n")[0]
    assert isinstance(tune, Tune)
    return tune


def names(tune: Tune) -> list[str]:
    return [pitch.name for note in tune.voices[0].notes for pitch in note.pitches]


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(TUNES), st.integers(-18, 18))
def test_every_pitch_and_key_moves_by_the_semitones(tune: Tune, semitones: int) -> None:
    moved = transposed(tune, semitones)
    before, after = unfold(tune).sounding, unfold(moved).sounding
    assert [n.pitch.midi + semitones for n in before] == [n.pitch.midi for n in after]
    assert [n.onset for n in before] == [n.onset for n in after]
    assert moved.key.tonic_pitch_class == (tune.key.tonic_pitch_class + semitones) % 12
    assert moved.key.mode == tune.key.mode
    assert abs(moved.key.fifths) <= 6
    for old, new in zip(tune.voices[0].notes, moved.voices[0].notes, strict=True):
        assert (old.id, old.place, old.ties) == (new.id, new.place, new.ties)
        graces = [g.pitch.midi + semitones for g in old.graces]
        assert graces == [g.pitch.midi for g in new.graces]
    back = unfold(transposed(moved, -semitones)).sounding
    assert [n.pitch.midi for n in back] == [n.pitch.midi for n in before]


@given(st.sampled_from(TUNES), st.integers(-2, 2))
def test_octaves_and_back_give_the_same_tune(tune: Tune, octaves: int) -> None:
    assert transposed(transposed(tune, octaves=octaves), octaves=-octaves) == tune


@pytest.mark.parametrize(
    ("body", "key", "semitones", "spelled", "name"),
    [
        # Worked out by hand from the circle of fifths.
        ("CEG^F|", "C", 2, ["D4", "F#4", "A4", "G#4"], "D major"),
        ("CEG_B|", "C", 3, ["Eb4", "G4", "Bb4", "Db5"], "Eb major"),
        ("CEG^F|", "C", 1, ["Db4", "F4", "Ab4", "G4"], "Db major"),
        ("DEF^C|", "Ddor", 7, ["A4", "B4", "C5", "G#4"], "A dorian"),
        ("A^GA|", "Am", -2, ["G4", "F#4", "G4"], "G minor"),
    ],
)
def test_spelling(body: str, key: str, semitones: int, spelled: list[str], name: str) -> None:
    moved = transposed(one(body, key), semitones)
    assert names(moved) == spelled
    assert moved.key.name == name


def test_chord_symbols_move_and_words_stay() -> None:
    tune = one('"Am7/C"A "N.C."B "F#dim"c "Fine"d|')
    moved = transposed(tune, 2)
    notes = list(moved.voices[0].notes)
    symbols = [note.chord_symbol for note in notes]
    assert symbols[0] == "Bm7/D"
    assert "G#dim" in symbols
    assert "G" not in "".join(s for s in symbols if s.endswith("ine"))


def test_inline_keys_and_chords_of_notes_move_too() -> None:
    moved = transposed(one("C[CEG]|[K:G]F[K:D]C|"), 2)
    assert names(moved) == ["D4", "D4", "F#4", "A4", "G#4", "D#4"]
    keys = [
        event.key.name for bar in moved.bars for event in bar.events if getattr(event, "key", None)
    ]
    assert {bar.key.name for bar in moved.bars} | set(keys) == {"D major", "A major", "E major"}


def test_the_pipes_scale_becomes_mixolydian_elsewhere() -> None:
    moved = transposed(one("ABcd|", "HP"), 5)
    assert (moved.key.name, moved.key.fifths) == ("D mixolydian", 1)


def test_a_move_out_of_range_is_an_error_that_says_so() -> None:
    with pytest.raises(OutOfRange, match="smaller move"):
        transposed(one("C|"), octaves=7)


def test_a_tied_chord_stays_tied() -> None:
    tune = one("[CE]-[CE]|")
    moved = transposed(tune, 5)
    assert [s.length for s in unfold(moved).sounding] == [2, 2]
