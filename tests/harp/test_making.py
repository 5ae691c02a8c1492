"""From words to a harp: keys, registers, valves, lists of harps; positions and pitches."""

import pytest

from reedwright.errors import ReedwrightError
from reedwright.harp.making import (
    made_harps,
    make_harp,
    parse_harp,
    parse_harps,
    parse_valves,
)
from reedwright.harp.model import Breath, Reed
from reedwright.harp.naming import KEYS, frequency, parse_key, parse_note, spell
from reedwright.harp.position import position, position_name
from reedwright.harp.tunings import find_tuning


def blow(*holes: int) -> set[Reed]:
    return {Reed(hole, Breath.BLOW) for hole in holes}


def draw(*holes: int) -> set[Reed]:
    return {Reed(hole, Breath.DRAW) for hole in holes}


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("C#", "Db"),
        ("D♭", "Db"),
        ("db", "Db"),
        ("Gb", "F#"),
        ("f♯", "F#"),
        ("A#", "Bb"),
        ("b", "B"),
        ("bb", "Bb"),
        ("B#", "C"),
        ("Fb", "E"),
        ("Am", "A"),
        ("E minor", "E"),
    ],
)
def test_keys_are_read_in_sharps_and_flats(text: str, key: str) -> None:
    assert parse_key(text) == key


@pytest.mark.parametrize("text", ["", "H", "C##", "low", "C4", "10"])
def test_what_is_no_key_is_refused(text: str) -> None:
    with pytest.raises(ReedwrightError, match="is not a key"):
        parse_key(text)


def test_registers_lie_an_octave_apart() -> None:
    # Common practice: hole 1 blow of the ordinary harp in C is middle C, C4.
    low, ordinary, high = (make_harp("C", register=r) for r in ("low", "ordinary", "high"))
    assert [h.reed_midi(1, Breath.BLOW) for h in (low, ordinary, high)] == [48, 60, 72]
    assert (low.name, ordinary.name, high.name) == ("low C harp", "C harp", "high C harp")


def test_a_harp_is_understood_from_one_word_or_several() -> None:
    assert parse_harp("G") == make_harp("G")
    assert parse_harp("low D") == make_harp("D", register="low")
    assert parse_harp("D low") == parse_harp("Low d")
    assert parse_harp("G:richter-raised-3-blow") == make_harp("G", "richter-raised-3-blow")
    assert parse_harp("Bb:solo:half") == make_harp("Bb", "solo", valves="half")
    assert parse_harp("C::half") == make_harp("C", valves="half")
    assert parse_harp("G", tuning="solo", register="high", valves="half") == make_harp(
        "G", "solo", "high", "half"
    )
    assert parse_harp("low G:richter", tuning="solo", register="high") == make_harp(
        "G", register="low"
    )


def test_owned_harps_are_a_list_without_doubles() -> None:
    harps = parse_harps("C, G:richter-raised-3-blow, low D, C")
    assert harps == (
        make_harp("C"),
        make_harp("G", "richter-raised-3-blow"),
        make_harp("D", register="low"),
    )


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("X", "not a key"),
        ("low", "not a key"),
        ("C:nothing", "no tuning named"),
        ("C:richter:half:x", "too many colons"),
        ("C:richter:blow", "names no reed"),
        ("C:richter:1-6", "say blow or draw"),
        ("C:richter:blow 11", "no hole 11"),
        ("C:richter:blow 6-1", "the other way round"),
        ("C:richter:some", "not understood"),
        ("", "not a key"),
    ],
)
def test_a_faulty_description_says_what_is_wrong(text: str, said: str) -> None:
    with pytest.raises(ReedwrightError, match=said):
        parse_harp(text)


def test_an_unknown_register_and_an_empty_list_are_refused() -> None:
    with pytest.raises(ReedwrightError, match="not a register"):
        make_harp("C", register="middle")
    with pytest.raises(ReedwrightError, match="no harp is named"):
        parse_harps(" , ")


def test_half_valved_is_blow_one_to_six_and_draw_seven_to_ten() -> None:
    # Trade practice; Wikipedia, "Richter-tuned harmonica": windsavers on draw 1-6 and blow 7-10,
    # which isolate the other reed of each hole.
    assert parse_valves("half", find_tuning("richter")) == blow(*range(1, 7)) | draw(*range(7, 11))


def test_half_valving_takes_the_lower_reed_whatever_the_tuning() -> None:
    # Solo tuning: C over B in holes 4 and 8, so there the drawn reed is the lower.
    assert parse_valves("half", find_tuning("solo")) == blow(1, 2, 3, 5, 6, 7, 9, 10) | draw(4, 8)


def test_listed_valves_are_the_reeds_that_gain() -> None:
    richter = find_tuning("richter")
    assert parse_valves("blow 1-6, draw 7 8", richter) == blow(1, 2, 3, 4, 5, 6) | draw(7, 8)
    assert parse_valves("draw 3 blow 2 - 4", richter) == blow(2, 3, 4) | draw(3)
    assert parse_valves("none", richter) == frozenset()
    assert len(parse_valves("full", richter)) == 20


def test_harps_as_made_have_their_tunings_valves() -> None:
    assert not make_harp("C").isolated
    assert len(make_harp("C", "slide-solo-12").isolated) == 24
    assert not make_harp("C", "slide-solo-12", valves="none").isolated


def test_made_harps_are_all_different_and_in_every_key() -> None:
    harps = made_harps([find_tuning("richter"), find_tuning("solo")])
    assert len(set(harps)) == len(harps)
    assert {(h.key, h.tuning.name) for h in harps if h.register == "ordinary"} == {
        (key, name) for key in KEYS for name in ("richter", "solo")
    }


CIRCLE_OF_FIFTHS = ("C", "G", "D", "A", "E", "B", "F#", "Db", "Ab", "Eb", "Bb", "F")


def test_positions_count_the_circle_of_fifths() -> None:
    for start, key in enumerate(CIRCLE_OF_FIFTHS):
        harp = make_harp(key)
        for steps in range(12):
            tonic = parse_note(f"{CIRCLE_OF_FIFTHS[(start + steps) % 12]}4") % 12
            assert position(tonic, harp) == steps + 1


def test_registers_do_not_change_the_position() -> None:
    assert position(7, make_harp("C", register="low")) == 2
    assert [position_name(n) for n in (1, 2, 3, 12)] == ["first", "second", "third", "twelfth"]


@pytest.mark.parametrize(
    ("name", "hertz"),
    # ISO 16:1975 sets A4 = 440 Hz; octaves double it, and the equal-tempered C4 is 261.626 Hz in
    # any table of twelve-tone equal temperament, C6 1046.502, G3 195.998.
    [
        ("A4", 440.0),
        ("A3", 220.0),
        ("A6", 1760.0),
        ("C4", 261.626),
        ("C6", 1046.502),
        ("G3", 195.998),
    ],
)
def test_reeds_are_in_equal_temperament_from_iso_16(name: str, hertz: float) -> None:
    assert frequency(parse_note(name)) == pytest.approx(hertz, abs=0.0005)


def test_pitch_moves_with_a4() -> None:
    assert frequency(parse_note("A5"), a4=443.0) == pytest.approx(886.0)


def test_every_spelled_name_reads_back_as_its_note() -> None:
    for home in KEYS:
        for midi in range(40, 110):
            assert parse_note(spell(midi, home)) == midi


def test_chromatic_notes_are_spelled_for_the_key() -> None:
    # Flat second, third, sixth, seventh and sharp fourth: common practice of chart makers.
    assert [spell(60 + n, "C", False) for n in (1, 3, 6, 8, 10)] == ["Db", "Eb", "F#", "Ab", "Bb"]
    assert [spell(62 + n, "D", False) for n in (1, 3, 6, 8, 10)] == ["Eb", "F", "G#", "Bb", "C"]
    assert spell(65, "F#") == "E#4"  # the seventh of the scale keeps its letter


def test_a_harp_is_named_with_what_is_special_about_it() -> None:
    assert make_harp("G", "richter-raised-3-blow").name == "G harp, raised 3 blow"
    assert make_harp("D", register="low", valves="half").name == "low D harp, half-valved"
    assert make_harp("C", valves="blow 1 3").name == "C harp, 2 reeds valved"
    assert make_harp("C", valves="full").name == "C harp, fully valved"
    assert make_harp("C", "slide-solo-12").name == "C harp, twelve-hole slide, solo"
