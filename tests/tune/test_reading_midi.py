"""MIDI comes in as a tune that can be read: bars, triplets, ties, key, melody."""

import random
from fractions import Fraction
from pathlib import Path

import mido
import pytest

from reedwright.errors import ReedwrightError
from reedwright.tune.midi_in import BadMidi, read_midi
from reedwright.tune.model import Note, Rest
from reedwright.tune.rights import rights_line
from reedwright.tune.unfold import unfold

TICKS = 480


def write(
    path: Path,
    tracks: list[list[tuple[float, float, int]]],
    meta: tuple[mido.MetaMessage, ...] = (),
    channels: tuple[int, ...] = (),
) -> Path:
    """A file of (onset, length, midi) notes in quarter notes, made by mido."""
    file = mido.MidiFile(ticks_per_beat=TICKS)
    first = mido.MidiTrack(meta)
    file.tracks.append(first)
    for index, notes in enumerate(tracks):
        channel = channels[index] if channels else index
        events = []
        for onset, length, midi in notes:
            events.append((round(onset * TICKS), 1, midi))
            events.append((round((onset + length) * TICKS), 0, midi))
        track = mido.MidiTrack([mido.MetaMessage("track_name", name=f"voice {index + 1}")])
        now = 0
        for tick, on, midi in sorted(events):
            kind = "note_on" if on else "note_off"
            track.append(
                mido.Message(kind, note=midi, velocity=64, time=tick - now, channel=channel)
            )
            now = tick
        file.tracks.append(track)
    file.save(str(path))
    return path


HEADER = b"MThd\x00\x00\x00\x06\x00\x01\x00\x01"
EMPTY_TRACK = b"MTrk\x00\x00\x00\x04\x00\xff\x2f\x00"
SIX_EIGHT = mido.MetaMessage("time_signature", numerator=6, denominator=8)
IN_D = mido.MetaMessage("key_signature", key="D")


def test_key_metre_tempo_title_and_rights_come_from_the_file(tmp_path: Path) -> None:
    meta = (
        mido.MetaMessage("track_name", name="A Jig"),
        mido.MetaMessage("copyright", text="CC0 1.0"),
        mido.MetaMessage("set_tempo", tempo=500_000),
        SIX_EIGHT,
        mido.MetaMessage("key_signature", key="F#m"),
    )
    tune = read_midi(write(tmp_path / "a.mid", [[(0, 0.5, 66), (0.5, 2.5, 69)]], meta))
    assert (tune.title, tune.key.name, tune.meter.name) == ("A Jig", "F# minor", "6/8")
    assert tune.key.fifths == 3
    assert not tune.key.estimated
    assert tune.tempo is not None and tune.tempo.quarters_per_minute == 120
    assert rights_line(tune) == "CC0 1.0"
    assert tune.problems == ()


def test_notes_over_bar_lines_are_tied_and_sound_as_one(tmp_path: Path) -> None:
    tune = read_midi(write(tmp_path / "a.mid", [[(0, 3, 62), (3, 2, 64), (5, 6, 66)]], (IN_D,)))
    assert [len(bar.notes) for bar in tune.bars] == [2, 2, 1]
    sounding = [(s.pitch.name, s.onset, s.length) for s in unfold(tune).sounding]
    assert sounding == [("D4", 0, 3), ("E4", 3, 2), ("F#4", 5, 6)]
    assert all(bar.length == 4 for bar in tune.bars)


def test_triplets_and_short_notes_of_an_exported_file_stay_exact(tmp_path: Path) -> None:
    third, short = 1 / 3, 1 / 8
    notes = [(k * third, third, 60 + k) for k in range(3)]
    notes += [(1 + k * short, short, 70 - k) for k in range(8)]
    notes += [(2.0, 1.0, 72), (3.0, 2 * third, 74), (3 + 2 * third, third, 76)]
    tune = read_midi(write(tmp_path / "a.mid", [notes]))
    lengths = [note.length for note in tune.voices[0].notes]
    assert lengths == (
        [Fraction(1, 3)] * 3 + [Fraction(1, 8)] * 8 + [1, Fraction(2, 3), Fraction(1, 3)]
    )
    tuplets = [note.tuplet for note in tune.voices[0].notes]
    assert [t is not None for t in tuplets] == [True] * 3 + [False] * 9 + [True] * 2
    assert tuplets[0] is not None and tuplets[0].first
    assert tuplets[2] is not None and tuplets[2].last


def test_a_played_file_is_brought_to_the_nearest_grid_and_says_so(tmp_path: Path) -> None:
    chance = random.Random(5)
    exact = [(k * 0.5, 0.5, 60 + (k * 5) % 12) for k in range(32)]
    played = [
        (max(0, onset + chance.uniform(-0.05, 0.05)), length * chance.uniform(0.75, 1.1), midi)
        for onset, length, midi in exact
    ]
    tune = read_midi(write(tmp_path / "a.mid", [played]))
    assert [(float(s.onset), float(s.length), s.pitch.midi) for s in unfold(tune).sounding][
        :-1
    ] == (exact[:-1])
    assert any("nearest" in problem.message for problem in tune.problems)


def test_real_rests_stay_rests(tmp_path: Path) -> None:
    tune = read_midi(write(tmp_path / "a.mid", [[(1, 1, 60), (3, 1, 62)]]))
    kinds = [type(event) for event in tune.bars[0].events]
    assert kinds == [Rest, Note, Rest, Note]


def test_without_a_key_one_is_estimated_and_called_so(tmp_path: Path) -> None:
    scale = [62, 64, 66, 67, 69, 71, 73, 74, 69, 66, 62]
    tune = read_midi(write(tmp_path / "a.mid", [[(k, 1, m) for k, m in enumerate(scale)]]))
    assert (tune.key.name, tune.key.estimated) == ("D major", True)
    assert any("estimated" in problem.message for problem in tune.problems)
    assert tune.voices[0].bars[0].notes[2].pitch.name == "F#4"


def test_the_melody_is_the_highest_busy_voice_and_drums_are_left_out(tmp_path: Path) -> None:
    bass = [(k, 1, 40) for k in range(16)]
    melody = [(k, 1, 70 + k % 3) for k in range(16)]
    bells = [(0, 1, 100)]
    drums = [(k * 0.25, 0.1, 120) for k in range(64)]
    path = write(tmp_path / "a.mid", [bass, melody, bells, drums], channels=(0, 1, 2, 9))
    tune = read_midi(path)
    assert [voice.title for voice in tune.voices] == ["voice 2", "voice 1", "voice 3"]
    assert any("taken as the tune" in problem.message for problem in tune.problems)
    assert min(note.pitch.midi for note in tune.voices[0].notes) == 70


def test_chords_keep_all_their_notes(tmp_path: Path) -> None:
    tune = read_midi(write(tmp_path / "a.mid", [[(0, 2, 60), (0, 2, 64), (0, 1, 67)]]))
    assert [p.name for p in tune.bars[0].notes[0].pitches] == ["C4", "E4", "G4"]


def test_an_anacrusis_written_as_a_short_first_bar_is_bar_nought(tmp_path: Path) -> None:
    meta = (
        mido.MetaMessage("time_signature", numerator=1, denominator=4),
        mido.MetaMessage("time_signature", numerator=4, denominator=4, time=TICKS),
    )
    tune = read_midi(write(tmp_path / "a.mid", [[(0, 1, 67), (1, 4, 72)]], meta))
    assert [bar.number for bar in tune.bars] == [0, 1]
    assert unfold(tune).notes[0].beat == 4


def test_a_file_that_music21_wrote_sounds_the_same(tmp_path: Path) -> None:
    # Outside writer: music21, from its corpus.
    from music21 import corpus

    part = corpus.parse("bach/bwv66.6").parts[0]
    path = tmp_path / "b.mid"
    part.write("midi", fp=str(path))
    theirs = [
        (float(n.getOffsetInHierarchy(part)), float(n.quarterLength), n.pitch.midi)
        for n in part.stripTies().recurse().notes
    ]
    tune = read_midi(path)
    ours = [(float(s.onset), float(s.length), s.pitch.midi) for s in unfold(tune).sounding]
    assert ours == theirs
    assert tune.key.name == "F# minor"


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty"),
        (b"hello", "damaged"),
        (
            b"MThd\x00\x00\x00\x06\x00\x01\x00\x01\xe7\x28MTrk\x00\x00\x00\x04\x00\xff\x2f\x00",
            "SMPTE",
        ),
        (
            b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x01\xe0MTrk\x00\x00\x00\x04\x00\xff\x2f\x00",
            "no notes",
        ),
    ],
)
def test_bad_files_are_refused_with_a_reason(tmp_path: Path, data: bytes, says: str) -> None:
    path = tmp_path / "bad.mid"
    path.write_bytes(data)
    with pytest.raises(BadMidi, match=says):
        read_midi(path)


def test_a_file_that_lasts_for_ever_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadMidi, match="lasts more than"):
        read_midi(write(tmp_path / "a.mid", [[(0, 1, 60), (50_000, 1, 62)]]))


@pytest.mark.no_cover
def test_damaged_files_never_crash(tmp_path: Path) -> None:
    whole = write(tmp_path / "a.mid", [[(k * 0.5, 0.5, 60 + k % 12) for k in range(40)]], (IN_D,))
    data = whole.read_bytes()
    chance = random.Random(7)
    path = tmp_path / "damaged.mid"
    for _ in range(300):
        broken = bytearray(data)
        for _ in range(chance.randrange(1, 6)):
            broken[chance.randrange(len(broken))] = chance.randrange(256)
        if chance.random() < 0.3:
            del broken[chance.randrange(len(broken)) :]
        path.write_bytes(bytes(broken))
        try:
            unfold(read_midi(path))
        except ReedwrightError as error:
            assert str(path) in str(error)
