"""Tab in whole words: what a screen reader reads."""

import re
from dataclasses import replace
from fractions import Fraction

import pytest
from handmade_arrangements import by_hand

from reedwright.harp.making import make_harp
from reedwright.tab.spoken import spoken_tab
from reedwright.tab.words import (
    bars_text,
    in_words,
    length_words,
    meter_words,
    sounding_words,
)
from reedwright.tune.model import Bar, Key, Meter, Tuplet, Voice
from reedwright.tune.writtenout import time_of, written_out


def bar_lines(text: str) -> list[str]:
    return [line for line in text.splitlines() if re.match(r"Bar |Upbeat", line)]


def test_bars_are_said_note_by_note() -> None:
    said = spoken_tab(by_hand("6b 6d 7d 7b | 4d 5b z 4b"))
    assert bar_lines(said) == [
        "Bar 1. six blow, six draw, seven draw, seven blow.",
        "Bar 2. four draw, five blow, rest, four blow.",
    ]


def test_techniques_are_said_in_words() -> None:
    said = spoken_tab(by_hand("3d' 3d'' 3d''' 6b° 7d°"))
    assert bar_lines(said) == [
        "Bar 1. three draw bent a semitone, three draw bent a whole tone, "
        "three draw bent three semitones, six overblow, seven overdraw."
    ]
    slide = by_hand("5d<", make_harp("C", "slide-solo-12"))
    assert bar_lines(spoken_tab(slide)) == ["Bar 1. five draw with the slide."]


def test_only_unusual_lengths_are_said() -> None:
    said = spoken_tab(by_hand("6b 6d 6b 6d:2 | 6b 6d 5b:3"))
    assert "Notes are quavers, also called eighth notes, unless" in said
    assert bar_lines(said) == [
        "Bar 1. six blow, six draw, six blow, six draw crotchet.",
        "Bar 2. six blow, six draw, five blow dotted crotchet.",
    ]


def test_dotted_pairs_are_said_once_at_the_head() -> None:
    # Written in units of which a quaver of the text is one: 3 and 1 make a dotted pair.
    said = spoken_tab(by_hand("6b:3 6d 7d:3 7b | 4d:3 5b 5b 4b:2 | 4b:3 4d"))
    assert (
        "Notes go in pairs, long then short, a dotted crotchet and a quaver, unless another "
        "length is said." in said
    )
    assert bar_lines(said) == [
        "Bar 1. six blow, six draw, seven draw, seven blow.",
        "Bar 2. four draw, five blow, five blow quaver, four blow crotchet.",
        "Bar 3. four blow, four draw.",
    ]


def test_triplets_are_said_as_a_group() -> None:
    plain = by_hand("6b 6b 4b 5b 6b 6d:2")
    (bar,) = plain.tune.bars
    events = list(bar.notes)
    for index, (first, last) in ((2, (True, False)), (3, (False, False)), (4, (False, True))):
        tuplet = Tuplet(3, 2, first, last)
        events[index] = replace(events[index], length=Fraction(1, 3), tuplet=tuplet)

    def said(bar: Bar) -> list[str]:
        tune = replace(plain.tune, voices=(Voice("1", (bar,)),))
        return bar_lines(spoken_tab(replace(plain, tune=tune)))

    assert said(replace(bar, events=tuple(events))) == [
        "Bar 1. six blow, six blow, triplet of quavers, four blow, five blow, six blow, "
        "six draw crotchet."
    ]
    events[3] = replace(events[3], length=Fraction(2, 3))
    assert said(replace(bar, events=(*events[:4], events[5]))) == [
        "Bar 1. six blow, six blow, four blow, five blow crotchet, six draw crotchet."
    ]
    events[3] = replace(events[3], tuplet=Tuplet(3, 2, False, True))
    assert said(replace(bar, events=(*events[:4], events[5]))) == [
        "Bar 1. six blow, six blow, triplet, four blow quaver, five blow crotchet, "
        "end of the triplet, six draw crotchet."
    ]


def test_cuts_and_other_grace_notes_are_told_apart() -> None:
    said = spoken_tab(by_hand("{7b}6b {5b}6b {8b}6b {4d,5d}6d"))
    assert bar_lines(said) == [
        "Bar 1. six blow with a quick cut from seven blow, "
        "six blow with a quick tap on five blow, "
        "six blow with a quick grace note eight blow, "
        "six draw with quick grace notes four draw and five draw."
    ]


def test_a_tie_is_held_on() -> None:
    said = spoken_tab(by_hand("6b 6d 6b- | 6b 6d 6b"))
    assert bar_lines(said) == [
        "Bar 1. six blow, six draw, six blow held on.",
        "Bar 2. held quaver, six draw, six blow.",
    ]


def test_repeats_endings_and_parts_are_said() -> None:
    said = spoken_tab(by_hand("~ 4b |: 6b 6d |[1 5b 5d :|[2 5b 4b |: 7b 7d :|"))
    body = said.split("\n\n", 1)[1].splitlines()
    assert body == [
        "First part.",
        "Upbeat. four blow.",
        "The repeat begins here.",
        "Bar 1. six blow, six draw.",
        "First ending.",
        "Bar 2. five blow, five draw.",
        "Repeat.",
        "Second ending.",
        "Bar 3. five blow, four blow.",
        "",
        "Second part.",
        "The repeat begins here.",
        "Bar 4. seven blow, seven draw.",
        "Repeat.",
        "",
        "End of the tune.",
    ]


def test_repeats_that_are_written_out_are_told_by_their_time() -> None:
    written = by_hand("~ 4b |: 6b 6d |[1 5b 5d :|[2 5b 4b |: 7b 7d :|")
    tune = written_out(written.tune)
    again = {note.id: written.soundings[time_of(note.id)[0]] for note in tune.voices[0].notes}
    said = spoken_tab(replace(written, tune=tune, soundings=again))
    assert [line for line in said.splitlines() if " part" in line] == [
        "First part.",
        "First part, second time.",
        "Second part.",
        "Second part, second time.",
    ]


def test_the_heading_names_tune_harp_and_position() -> None:
    key = Key("E", -1, "major", (0, 0, -1, 0, 0, -1, -1))
    said = spoken_tab(by_hand("6b 6d", "Ab", key, Meter((6,), 8), "The Latch", "jig"))
    assert said.splitlines()[:3] == [
        "The Latch",
        "Jig in E flat major, six eight.",
        "For an A flat harp, second position.",
    ]


def test_a_missing_note_is_named_and_told_of_at_the_head() -> None:
    said = spoken_tab(by_hand("6b ?C#3"))
    assert "This harp has no C sharp, said here as missing notes." in said
    assert bar_lines(said) == ["Bar 1. six blow, missing note C sharp."]


def test_there_are_no_symbols() -> None:
    text = "~ 4b |: {7b}6b 3d''' 6b°:3 z |[1 5b- 5b :|[2 ?C#3 4b:2"
    key = Key("B", -1, "dorian", (0, 0, 0, 0, 0, 0, 0))
    said = spoken_tab(by_hand(text, "Bb", key, Meter((2, 3), 8)))
    assert re.fullmatch(r"[A-Za-z0-9 .,\n]+", said), set(re.sub(r"[A-Za-z0-9 .,\n]", "", said))
    # Figures for bar numbers only.
    assert not re.search(r"\d", re.sub(r"^Bar \d+", "", said, flags=re.MULTILINE))


@pytest.mark.parametrize(
    ("length", "words"),
    [
        (Fraction(4), "semibreve"),
        (Fraction(3), "dotted minim"),
        (Fraction(7, 2), "double dotted minim"),
        (Fraction(3, 4), "dotted quaver"),
        (Fraction(5, 2), "minim and quaver"),
        (Fraction(1, 8), "demisemiquaver"),
    ],
)
def test_lengths_have_their_names(length: Fraction, words: str) -> None:
    assert length_words(length) == words


def test_metres_have_their_names() -> None:
    assert meter_words(Meter((9,), 8)) == "nine eight"
    assert meter_words(Meter((2,), 2, "C|")) == "cut time"
    assert meter_words(Meter(())) == "free time"
    assert meter_words(Meter((2, 3), 8)) == "two plus three eight"


@pytest.mark.parametrize(
    ("bars", "words"),
    [
        ([3], "bar 3"),
        ([7, 3, 12, 3], "bars 3, 7 and 12"),
        ([3, 4], "bars 3 and 4"),
        ([3, 4, 5, 9], "bars 3 to 5 and 9"),
        ([0], "the upbeat"),
        ([0, 4], "the upbeat and bar 4"),
        ([1, 3, 5, 7, 9, 11, 13], "bars 1, 3, 5, 7, 9, 11 and 13"),
        ([1, 3, 5, 7, 9, 11, 13, 15, 16, 17], "bars 1, 3, 5, 7, 9, 11 and four more"),
    ],
)
def test_lists_of_bars_are_short(bars: list[int], words: str) -> None:
    assert bars_text(bars) == words


def test_names_with_signs_become_words() -> None:
    assert in_words("low Bb harp, raised 3 blow") == "low B flat harp, raised 3 blow"
    assert in_words("F# minor") == "F sharp minor"
    assert in_words("A harp") == "A harp"


def test_every_sounding_of_a_harp_has_words_of_its_own() -> None:
    for harp in (make_harp("C"), make_harp("C", "slide-solo-12"), make_harp("C", valves="half")):
        assert len({sounding_words(s) for s in harp.soundings}) == len(harp.soundings)
