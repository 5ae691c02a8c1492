"""MusicXML as written: valid by the W3C schema, and read the same by others."""

from __future__ import annotations

import io
import random
import warnings
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from xml.etree import ElementTree

import music21
import pytest
from handmade_scores import C_MAJOR, HERE, REEL, make_tune
from musicxml_checks import (
    model_sounds,
    music21_part,
    music21_sounds,
    nearly,
    schema_errors,
)

from reedwright.tune.model import (
    Annotation,
    Bar,
    BarLine,
    Change,
    Key,
    Lyric,
    Meter,
    Note,
    Tempo,
    Tune,
    Tuplet,
    Voice,
)
from reedwright.tune.musicxml import write_musicxml
from reedwright.tune.reading import read_tunes
from reedwright.tune.refused import Refused
from reedwright.tune.rows import TabRow

EXAMPLES = Path(__file__).parents[2] / "examples" / "tunes.abc"
# O'Neill's Music of Ireland (1903), 1,850 tunes, as shipped with music21.
COLLECTION = Path(music21.__file__).parent / "corpus" / "oneills1850"


def example_tunes() -> list[Tune]:
    return [tune for tune in read_tunes(EXAMPLES) if isinstance(tune, Tune)]


def collection_sample(count: int) -> list[Tune]:
    files = random.Random(7).sample(sorted(COLLECTION.glob("*.abc")), 6)
    tunes = [t for file in files for t in read_tunes(file) if not isinstance(t, Refused)]
    return random.Random(11).sample(tunes, count)


def tab_for(tune: Tune) -> tuple[TabRow, ...]:
    ids = [n.id for n in tune.voices[0].notes]
    ids += [g.id for n in tune.voices[0].notes for g in n.graces]
    return (TabRow("tab", dict.fromkeys(ids, "6↓")),)


def crowded_tune() -> Tune:
    """One of everything that an element is written for."""
    tune = make_tune(
        ["|:{D'.C'}C5 (D_ #F_ E) G-", "G3 z B1/2_ A1/2_ (G ((F) E)) D", "[1C4 z2 D2:|", "[2C8"],
        C_MAJOR,
        Meter((4,), 4, "C"),
        fields=[("C", "A & B"), ("S", "A <session>"), ("H", "Long\x0bago"), ("O", "Nowhere")],
    )
    bars = list(tune.bars)
    first = bars[0].events[0]
    assert isinstance(first, Note)
    everything = replace(
        first,
        decorations=(
            "roll", "trill", "lowermordent", "staccato", "accent", "fermata", "upbow", "3",
            "mf", "crescendo(", "crescendo)", "arpeggio", "slide", "unheard of",
        ),
        chord_symbol="F#m7/A",
        annotations=(Annotation("below", "softly"), Annotation("left", "here")),
        lyrics=(Lyric("Hey", hyphen=True), None, Lyric("ho", extends=True)),
        slashed=True,
    )  # fmt: skip
    third = Tuplet(3, 2, first=True, last=False)
    triplet = [
        Note("t1", first.pitches, Fraction(1, 3), HERE, tuplet=third, beamed=True),
        Note("t2", first.pitches, Fraction(1, 3), HERE, tuplet=Tuplet(3, 2, False, False)),
        Note("t3", first.pitches, Fraction(1, 3), HERE, tuplet=Tuplet(3, 2, False, True)),
    ]
    change = Change(HERE, Key("D", 0, "major", (1, 0, 0, 1, 0, 0, 0)), Meter((2, 3), 8))
    odd = Note("odd", first.pitches, Fraction(1, 5), HERE, chord_symbol="not a chord")
    bars[0] = replace(bars[0], events=(everything, *bars[0].events[1:]), part="A", marks=("segno",))
    bars[1] = replace(bars[1], closing=BarLine.DOTTED, marks=("tocoda",))
    free = Meter((), 4)
    highland = Key("A", 0, "highland", (1, 0, 0, 1, 1, 0, 0))
    odd_key = Key("D", 0, "minor", (0, 0, 0, 1, 0, 0, -1))
    tempo = Change(HERE, tempo=Tempo(Fraction(3, 2), Fraction(120), "Lively"))
    bars.append(
        Bar(4, 5, (change, tempo, *triplet, odd), C_MAJOR, bars[0].meter, HERE, marks=("coda",))
    )
    bars.append(Bar(5, 6, (replace(triplet[0], id="h", tuplet=None),), highland, free, HERE))
    bars.append(
        Bar(
            6, 7, (replace(odd, id="k", length=Fraction(11, 4)),), replace(odd_key, clef="bass-8"),
            free, HERE, closing=BarLine.FINAL, marks=("dacapo", "fine"), repeat_close=3,
            overlays=((replace(first, id="o1", graces=()),),),
        )
    )  # fmt: skip
    whole = Note("v2", first.pitches, Fraction(4), HERE)
    second = Bar(0, 1, (whole,), C_MAJOR, bars[0].meter, HERE)
    return replace(
        tune,
        voices=(Voice("1", tuple(bars)), Voice("2", (second,), "Second")),
        tempo=Tempo(Fraction(5, 4), Fraction(80)),
        titles=("One & Only", "Other"),
    )


def test_one_of_everything_is_valid() -> None:
    tune = crowded_tune()
    assert schema_errors(write_musicxml(tune, tab_for(tune))) == []


def test_an_invalid_document_does_not_pass() -> None:
    text = write_musicxml(crowded_tune()).replace("<voice>1</voice>", "<voyce>1</voyce>", 1)
    assert schema_errors(text)


@pytest.mark.parametrize("tune", example_tunes(), ids=lambda tune: tune.title)
def test_examples_are_valid_and_read_back_the_same(tune: Tune) -> None:
    text = write_musicxml(tune, tab_for(tune))
    assert schema_errors(text) == []
    assert nearly(music21_sounds(text)) == nearly(model_sounds(tune))


@pytest.mark.no_cover
def test_collection_is_valid() -> None:
    errors = {
        tune.title: found
        for tune in collection_sample(150)
        if (found := schema_errors(write_musicxml(tune, tab_for(tune))))
    }
    assert errors == {}


@pytest.mark.no_cover
def test_collection_reads_back_the_same_in_music21() -> None:
    """Every pitch, its bar, its place in the bar and its length."""
    different = [
        tune.title
        for tune in collection_sample(50)
        if nearly(music21_sounds(write_musicxml(tune))) != nearly(model_sounds(tune))
    ]
    assert different == []


@pytest.mark.no_cover
def test_partitura_reads_the_same_tied_notes() -> None:
    """Sounding notes of the written order, ties joined, by a second independent reader."""
    import partitura

    for tune in [*example_tunes(), *collection_sample(20)]:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            score = partitura.load_musicxml(_file(write_musicxml(tune)))
            divisions = score[0].quarter_durations()[0][1]
            array = score[0].note_array(include_grace_notes=True)
        read = sorted(
            (round(float(start), 3), round(float(length), 3), int(pitch))
            for start, length, pitch, grace in zip(
                array["onset_div"] / divisions,
                array["duration_div"] / divisions,
                array["pitch"],
                array["is_grace"],
                strict=True,
            )
            if not grace
        )
        assert read == _tied_in_written_order(tune), tune.title


def test_bar_structure_reads_back() -> None:
    text = write_musicxml(example_tunes()[0])
    measures = list(music21_part(text).getElementsByClass("Measure"))
    repeats = [
        (m.number, line.direction)
        for m in measures
        for line in (m.leftBarline, m.rightBarline)
        if isinstance(line, music21.bar.Repeat)
    ]
    # Read from the source's own text: each part is marked off by a repeat, with two endings.
    assert [direction for _, direction in repeats] == ["start", "end", "start", "end"]
    brackets = music21_part(text).getElementsByClass("RepeatBracket")
    assert [bracket.number for bracket in brackets] == ["1", "2", "1", "2"]
    assert measures[0].paddingLeft > 0  # the upbeat is no full bar


def test_ids_are_the_models() -> None:
    tune = make_tune(REEL, anacrusis=True)
    root = _root(write_musicxml(tune))
    written = [note.get("id") for note in root.iter("note")]
    expected = []
    for note in tune.voices[0].notes:
        expected += [*(grace.id for grace in note.graces), note.id]
    assert written == expected


def test_rows_are_verses_under_notes_and_graces() -> None:
    tune = make_tune(["{A}G4 B4"])
    rows = (TabRow("blow", {"n1": "6", "n1g1": "5"}), TabRow("draw", {"n2": "4"}))
    root = _root(write_musicxml(tune, rows))
    found = [
        (note.get("id"), lyric.get("number"), lyric.findtext("text"))
        for note in root.iter("note")
        for lyric in note.iter("lyric")
    ]
    assert found == [("n1g1", "1", "5"), ("n1", "1", "6"), ("n2", "2", "4")]


def test_same_tune_gives_same_text_without_a_date() -> None:
    tune = crowded_tune()
    assert write_musicxml(tune) == write_musicxml(crowded_tune())
    assert "encoding-date" not in write_musicxml(tune)


def test_length_that_no_note_has_is_tied() -> None:
    """Five quavers: a minim tied to a quaver (common practice)."""
    root = _root(write_musicxml(make_tune(["G5 A3"])))
    first, second = list(root.iter("note"))[:2]
    assert (first.findtext("type"), second.findtext("type")) == ("half", "eighth")
    assert [t.get("type") for t in first.iter("tied")] == ["start"]
    assert [t.get("type") for t in second.iter("tied")] == ["stop"]


def test_accidentals_hold_to_the_end_of_the_bar_in_their_octave() -> None:
    """F natural in G major, again, an octave up, and after the bar line (common practice)."""
    root = _root(write_musicxml(make_tune(["=F2 =F2 F'2 G2", "F8"])))
    notes = list(root.iter("note"))
    # `explicit` ones are kept; the octave above gets its sharp as a courtesy.
    assert [note.findtext("accidental") for note in notes] == [
        "natural", "natural", "sharp", None, None
    ]  # fmt: skip


def test_tie_over_the_bar_line_needs_no_accidental() -> None:
    root = _root(write_musicxml(make_tune(["G6 #G2-", "#G8"])))
    notes = list(root.iter("note"))
    assert [note.findtext("accidental") for note in notes] == [None, "sharp", None]


def test_ties_and_slurs_without_another_end_are_left_out() -> None:
    text = write_musicxml(make_tune(["(G4 A4-", "G8)) "]))
    root = _root(text)
    assert [tie.get("type") for tie in root.iter("tie")] == []
    assert [slur.get("type") for slur in root.iter("slur")] == ["start", "stop"]
    assert schema_errors(text) == []


def test_tempo_is_seen_and_heard() -> None:
    tune = replace(make_tune(["G8"]), tempo=Tempo(Fraction(2), Fraction(96)))
    shown = _root(write_musicxml(tune))
    assert [sound.get("tempo") for sound in shown.iter("sound")] == ["192"]
    assert shown.findtext(".//metronome/beat-unit") == "half"
    assert shown.findtext(".//metronome/per-minute") == "96"


def test_measure_numbers_are_unique_and_upbeats_uncounted() -> None:
    root = _root(write_musicxml(make_tune(REEL, anacrusis=True)))
    numbers = [m.get("number") for m in root.iter("measure")]
    assert len(set(numbers)) == len(numbers)
    assert root.find(".//measure").get("implicit") == "yes"


def _root(text: str) -> ElementTree.Element:
    return ElementTree.fromstring(text)


def _file(text: str) -> io.BytesIO:
    return io.BytesIO(text.encode())


def _tied_in_written_order(tune: Tune) -> list[tuple[float, float, int]]:
    start = Fraction(0)
    found: list[list] = []
    open_ties: dict[int, list] = {}
    for bar in tune.bars:
        onset = start
        for event in bar.events:
            if isinstance(event, Change):
                continue
            if isinstance(event, Note):
                going = {}
                for pitch, tied in zip(event.pitches, event.ties, strict=True):
                    sound = open_ties.get(pitch.midi)
                    if sound:
                        sound[1] += event.length
                    else:
                        sound = [onset, event.length, pitch.midi]
                        found.append(sound)
                    if tied:
                        going[pitch.midi] = sound
                open_ties = going
            else:
                open_ties = {}
            onset += event.length
        start = onset
    return sorted((round(float(a), 3), round(float(b), 3), midi) for a, b, midi in found)
