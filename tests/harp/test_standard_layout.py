"""The standard harp against published layouts, and the bend rule against published tables."""

import pytest

from reedwright.harp.layout import note_name
from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Harp, Technique
from reedwright.harp.naming import KEYS, parse_note

# On-Line Encyclopedia of Integer Sequences, A291810, "Diatonic harmonica standard Richter tone
# layout": semitones above the root for 1 blow, 1 draw, 2 blow, 2 draw and so on.
A291810 = (0, 2, 4, 7, 7, 11, 12, 14, 16, 17, 19, 21, 24, 23, 28, 26, 31, 29, 36, 33)

# Wikibooks, "Harmonica/Harmonica Layouts and Alternate Tunings": note names by hole.
WIKIBOOKS = {
    "C": ("C E G C E G C E G C", "D G B D F A B D F A"),
    "Db": ("Db F Ab Db F Ab Db F Ab Db", "Eb Ab C Eb Gb Bb C Eb Gb Bb"),
    "D": ("D F# A D F# A D F# A D", "E A C# E G B C# E G B"),
    "E": ("E G# B E G# B E G# B E", "F# B D# F# A C# D# F# A C#"),
    "F": ("F A C F A C F A C F", "G C E G Bb D E G Bb D"),
    "G": ("G B D G B D G B D G", "A D F# A C E F# A C E"),
}

# Wikipedia, "Richter-tuned harmonica": keys G, A flat, A, B flat and B start (1 blow) below
# middle C, D flat to F sharp above it, C on it.
BELOW_MIDDLE_C = ("G", "Ab", "A", "Bb", "B")
MIDDLE_C = 60


@pytest.mark.parametrize("key", KEYS)
def test_reeds_are_the_published_layout_in_every_key(key: str) -> None:
    harp = make_harp(key)
    reeds = [harp.reed_midi(hole, breath) for hole in range(1, 11) for breath in Breath]
    assert [reed - reeds[0] for reed in reeds] == list(A291810)


@pytest.mark.parametrize("key", KEYS)
def test_ordinary_harps_start_where_the_encyclopaedia_says(key: str) -> None:
    lowest = make_harp(key).reed_midi(1, Breath.BLOW)
    tonic = parse_note(f"{key}4") % 12
    assert lowest % 12 == tonic
    assert abs(lowest - MIDDLE_C) <= 6
    assert (lowest < MIDDLE_C) == (key in BELOW_MIDDLE_C)


@pytest.mark.parametrize("key", WIKIBOOKS)
def test_notes_are_named_as_in_the_published_charts(key: str) -> None:
    harp = make_harp(key)
    for breath, names in zip(Breath, WIKIBOOKS[key], strict=True):
        ours = [note_name(harp.reed_midi(hole, breath), harp, False) for hole in range(1, 11)]
        assert ours == names.split()


def of_technique(harp: Harp, technique: Technique) -> dict[int, list[int]]:
    found: dict[int, list[int]] = {}
    for sounding in harp.soundings:
        if sounding.technique is technique:
            found.setdefault(sounding.hole, []).append(sounding.midi)
    return found


def midi(names: dict[int, str]) -> dict[int, list[int]]:
    return {hole: [parse_note(name) for name in text.split()] for hole, text in names.items()}


def test_bends_of_the_c_harp() -> None:
    # Holes: Andrew Zajac, "How to play the full chromatic scale on a diatonic harmonica": regular
    # bends are the draw bends of holes 1 to 4 and 6 and the blow bends of 8 to 10. Depth: Howard
    # Levy, "How I Found Overblows and Overdraws": any higher note down to just above the lower.
    assert of_technique(make_harp("C"), Technique.BEND) == midi(
        {
            1: "C#4",
            2: "F#4 F4",
            3: "A#4 A4 G#4",
            4: "C#5",
            6: "G#5",
            8: "D#6",
            9: "F#6",
            10: "B6 A#6",
        }
    )


def test_overblows_and_overdraws_of_the_c_harp() -> None:
    # Overblows 1 (E flat), 2 (A flat) and 3 (C): Howard Levy, lesson "1st Hole Overblows".
    # Overdraws 7 (C sharp), 8 (F), 9 (A flat), 10 (C sharp): Harp-L list, March 2005, "Question
    # about doing overblow". Both give the rule, a semitone above the opposite reed, which makes
    # overblows 4 (E flat), 5 (F sharp) and 6 (B flat).
    harp = make_harp("C")
    assert of_technique(harp, Technique.OVERBLOW) == midi(
        {1: "Eb4", 2: "Ab4", 3: "C5", 4: "Eb5", 5: "F#5", 6: "Bb5"}
    )
    assert of_technique(harp, Technique.OVERDRAW) == midi({7: "C#6", 8: "F6", 9: "Ab6", 10: "C#7"})


def test_bends_and_overblows_together_are_fully_chromatic() -> None:
    # Zajac, as above: with overbends a complete three-octave chromatic scale can be played.
    harp = make_harp("C")
    assert set(range(parse_note("C4"), parse_note("C7") + 1)) <= set(harp.ways)


def test_half_valved_harp_keeps_two_reed_bends_and_loses_the_overblows() -> None:
    plain, valved = make_harp("C"), make_harp("C", valves="half")
    assert of_technique(valved, Technique.BEND) == of_technique(plain, Technique.BEND)
    assert not of_technique(valved, Technique.OVERBLOW)
    assert not of_technique(valved, Technique.OVERDRAW)
    # Wikipedia, as above ("Valved diatonics"): windsavers on draw holes 1 to 6 and blow holes 7
    # to 10, and all reeds can be bent down a semitone at least. The reeds that gain are the
    # others of these holes; 5 draw and 7 blow, with no valve against them, stay as they were.
    assert of_technique(valved, Technique.VALVED_BEND) == midi(
        {
            1: "B3",
            2: "Eb4",
            3: "F#4",
            4: "B4",
            5: "Eb5",
            6: "F#5",
            7: "Bb5",
            8: "Db6",
            9: "E6",
            10: "Ab6",
        }
    )
