"""MIDI read back with independent readers: music21 and partitura."""

from fractions import Fraction
from pathlib import Path

import partitura
import pytest
from music21 import converter, meter
from sounding_tunes import AIR, HORNPIPE, JIG, REEL, example, from_abc

from reedwright.sound.midi import TICKS, write_midi
from reedwright.sound.timing import plan
from reedwright.tune.unfold import unfold

# music21 rounds what it reads to a grid; the tick grid itself is finer.
GRID = (4, 3, 12, 16)


@pytest.mark.parametrize("number", [REEL, JIG, HORNPIPE, AIR])
def test_pitches_and_onsets_read_back_as_played_out(number: int, tmp_path: Path) -> None:
    arrangement = example(number, "G" if number == REEL else "D")
    path = tmp_path / "t.mid"
    path.write_bytes(write_midi(plan(arrangement)))
    performance = unfold(arrangement.tune)
    expected = [(sound.note.pitch.midi, sound.onset) for sound in performance.sounding]
    score = converter.parse(path, quarterLengthDivisors=GRID, forceSource=True)
    # music21 ties notes over the bar lines that it draws.
    score = score.stripTies().flatten()
    found = [(note.pitch.midi, Fraction(note.offset)) for note in score.notes]
    assert found == expected
    by_partitura = partitura.load_performance_midi(path)[0].notes
    assert [
        (note["midi_pitch"], Fraction(note["note_on_tick"], TICKS)) for note in by_partitura
    ] == expected


def test_tempo_metre_and_instrument_read_back(tmp_path: Path) -> None:
    path = tmp_path / "t.mid"
    path.write_bytes(write_midi(plan(from_abc("cde fga|", meter="6/8", tempo="3/8=100"))))
    score = converter.parse(path, forceSource=True).flatten()
    (mark,) = score.getElementsByClass("MetronomeMark")
    assert mark.getQuarterBPM() == pytest.approx(150, abs=0.01)
    (time,) = score.getElementsByClass(meter.TimeSignature)
    assert time.ratioString == "6/8"
    assert score.getElementsByClass("Harmonica")


def test_cuts_are_short_notes_within_their_note(tmp_path: Path) -> None:
    timeline = plan(from_abc("{d}c2 e2 ~g4|"), tempo=120)
    path = tmp_path / "t.mid"
    path.write_bytes(write_midi(timeline, cuts=True))
    notes = partitura.load_performance_midi(path)[0].notes
    assert [note["midi_pitch"] for note in notes] == [note.midi for note in timeline.notes]
    cut, main, following = notes[:3]
    assert cut["note_on_tick"] == 0
    assert 0.03 <= cut["note_off"] - cut["note_on"] <= 0.062
    assert main["note_on_tick"] == cut["note_off_tick"]
    assert following["note_on_tick"] == TICKS
    without = len(plan(from_abc("c2 e2 g4|")).notes)
    path.write_bytes(write_midi(plan(from_abc("{d}c2 e2 ~g4|").as_written(), tempo=120)))
    assert len(partitura.load_performance_midi(path)[0].notes) == without == 3


def test_slow_tracks_midi_is_slow_and_bytes_are_always_the_same() -> None:
    arrangement = from_abc("c2d2|")
    full, slow = (write_midi(plan(arrangement, speed=speed)) for speed in (1.0, 0.5))
    assert full != slow
    assert full == write_midi(plan(arrangement))
