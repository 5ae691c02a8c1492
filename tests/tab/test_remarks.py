"""Notes for the student say what is true of arrangements made by hand."""

from handmade_arrangements import by_hand

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.remark import Remark
from reedwright.tab.remarks import MOST_REMARKS, remarks
from reedwright.tune.abc import read_abc


def remark(arrangement: Arrangement, topic: str) -> Remark | None:
    found = [r for r in remarks(arrangement) if r.topic == topic]
    assert len(found) < 2
    return found[0] if found else None


def text(arrangement: Arrangement, topic: str) -> str:
    found = remark(arrangement, topic)
    assert found is not None, remarks(arrangement)
    return found.text


def test_plain_tune_has_its_range_and_nothing_technical() -> None:
    breath, only = remarks(by_hand("6b 6d 7d 7b | 7b 7d 6d 6b"))
    assert (breath.topic, only.topic) == ("breath", "range")
    assert only.text == (
        "The tune lies in holes 6 to 7: lowest 6 blow (bar 1), highest 7 blow (bar 1). "
        "Every note is a plain blow or draw."
    )


def test_a_bent_grace_note_is_no_plain_blow_or_draw() -> None:
    assert "plain" in text(by_hand("{7b}6b 6d"), "range")
    assert "plain" not in text(by_hand("6b {6d'}6d"), "range")


def test_bends_are_named_by_hole_depth_note_and_bars() -> None:
    tune = by_hand("4b 3d'' 4b | 3d'' 3d 4b | 4d' 4d | 4b 3d'' 4b")
    assert remark(tune, "bends") == Remark(
        "bends",
        "Bends: 3 draw bent a whole tone to A in bars 1, 2 and 4; 4 draw bent a semitone to "
        "D flat in bar 3. Find each depth slowly against a tuner before you play the tune up to "
        "speed.",
        (1, 2, 3, 4),
    )


def test_a_valved_bend_gets_advice_of_its_own() -> None:
    tune = by_hand("5b' 5b 4d", make_harp("C", valves="half"))
    assert "5 blow bent a semitone to E flat in bar 1" in text(tune, "bends")
    assert "Valved reeds bend alone" in text(tune, "bends")


def test_overblows_are_named() -> None:
    tune = by_hand("6b 6b° 6d | 7d° 7d")
    assert text(tune, "overblows").startswith(
        "Overblows and overdraws: 6 overblow for B flat in bar 1; 7 overdraw for D flat in bar 2."
    )


def test_cuts_are_named_with_their_bars() -> None:
    tune = by_hand("{7b}6b 6d | 5d {7b}6b | {5d}4d 4b")
    assert text(tune, "cuts").startswith(
        "Cuts: 7 blow before 6 blow in bars 1 and 2; 5 draw before 4 draw in bar 3."
    )
    assert remark(tune, "grace notes") is None


def test_taps_and_several_grace_notes_are_named() -> None:
    tune = by_hand("{5b}6b 6d | {5b,6b}7b 5b")
    assert text(tune, "taps").startswith("Taps: 5 blow before 6 blow in bar 1.")
    assert text(tune, "grace notes").startswith(
        "Grace notes: 5 blow and 6 blow before 7 blow in bar 2."
    )


def test_what_the_harp_has_only_with_other_notes_is_told() -> None:
    # A5 is a draw note on a C harp; beside 6 blow (G5) lies 7 blow, which is C6.
    (tune,) = read_abc("X:1\nT:T\nM:4/4\nL:1/8\nK:C\n{a}g4 c4|{a}g4 c4|]\n")
    arrangement = arrange(tune, make_harp("C"), load_profile("player"))
    assert text(arrangement, "changed ornaments") == (
        "Ornaments that differ from the written ones: in bars 1 and 2 A cannot be reached from "
        "6 blow in one breath, so the tab has 7 blow, which sounds C."
    )


def test_the_widest_leap_is_found() -> None:
    tune = by_hand("4b 5b 8b | 8d 4d 5d | 4b 7b")
    leaps = remark(tune, "leaps")
    assert leaps is not None
    assert leaps.text.startswith("The widest leap is four holes: 8 draw to 4 draw in bar 2.")
    assert "Other leaps of three holes or more are in bars 1 and 3." in leaps.text
    assert leaps.bars == (1, 2, 3)


def test_a_move_across_a_rest_is_no_leap() -> None:
    assert remark(by_hand("4b z 8b | 8b 7b"), "leaps") is None


def test_a_leap_over_the_bar_line_counts_in_the_bar_it_lands_in() -> None:
    assert remark(by_hand("4b 4d | 9d 9b"), "leaps") == Remark(
        "leaps",
        "The widest leap is five holes: 4 draw to 9 draw in bar 2. "
        "Practise the move without sounding the holes between.",
        (2,),
    )


def test_moves_are_those_that_are_played() -> None:
    # The second ending stands after the first on the page, but is played after the bar before it.
    tune = by_hand("|: 4b 5b |[1 5b 4b :|[2 5b 8b | 7b 7d")
    assert text(tune, "leaps").startswith(
        "The widest leap is three holes: 5 blow to 8 blow in bar 3."
    )
    apart = by_hand("|: 4b 5b |[1 4b 4b :|[2 5b 8d | 7b 7d")
    assert "4 blow to" not in text(apart, "leaps")
    # Going back for the repeat is a move, too, and lands in the first bar.
    back = remark(by_hand("|: 4b 5b | 6b 8b :| 7b 7b"), "leaps")
    assert back is not None and back.bars == (1,)


def test_fast_turning_breath_is_found_from_seven_notes() -> None:
    assert remark(by_hand("4b 4d 5b 5d 6b 6d | 6d:4"), "changes of breath") is None
    tune = by_hand("6d 4b 4d 5b | 5d 6b 6d 6d")
    assert text(tune, "changes of breath").startswith(
        "The breath turns on every one of seven quick notes in bars 1 and 2."
    )
    assert remark(by_hand("4b:2 4d:2 5b:2 5d:2 6b:2 6d:2 7d:2"), "changes of breath") is None


def test_one_note_in_two_places_is_shown() -> None:
    # On a C harp G4 is both 2 draw and 3 blow (the standard layout).
    tune = by_hand("2d 2b 2d | 3b 4b | 2d 2b")
    assert remark(tune, "same note in two places") == Remark(
        "same note in two places",
        "One note, two places: G is mostly 2 draw, but 3 blow in bar 2. "
        "Follow the tab here, not the habit.",
        (2,),
    )


def test_where_to_breathe_is_told_where_one_breath_goes_on_too_long() -> None:
    easy = by_hand("6b 6d 7d 7b | 7b 7d 6d 6b")
    assert "take no extra breath" in text(easy, "breath")
    long = by_hand(" | ".join(["4d 5d 6d 5d 4d 5d 6d 5d"] * 8))
    told = [r.text for r in remarks(long) if r.topic == "breath"]
    assert told[0].startswith("Let air out through the nose")


def test_missing_notes_come_first_with_advice() -> None:
    first = remarks(by_hand("6b ?C#3 6d | 3d'' | ?C#3"))[0]
    assert first == Remark(
        "missing notes",
        "This harp has no C sharp (bars 1 and 3); the tab marks the place with ×. "
        "A harp in D has it.",
        (1, 3),
    )


def test_a_note_that_only_the_technique_lacks_is_told_apart() -> None:
    # A4 is on a C harp, as 3 draw bent a whole tone; here the player cannot bend.
    first = remarks(by_hand("6b ?A4 6d"))[0]
    assert first.text.startswith("With the techniques in use this harp has no A (bar 1); the tab")


def test_rolls_are_named() -> None:
    (tune,) = read_abc("X:1\nT:T\nM:6/8\nL:1/8\nQ:3/8=100\nK:C\n~g3 c3|g3 c3|]\n")
    arrangement = arrange(tune, make_harp("C"), load_profile("player"))
    assert text(arrangement, "rolls").startswith(
        "Rolls: 6 blow with 7 blow and 5 blow in bar 1. Split"
    )
    assert remark(by_hand("6b:3 6d | 7b:3 6d"), "rolls") is None


def test_nothing_is_joined_across_a_missing_note() -> None:
    assert remark(by_hand("4b ?C#3 8b"), "leaps") is None


def test_there_are_never_too_many() -> None:
    many = by_hand(
        "?C#3 {7b}6b {6d}6b 3d'' 6b° | 4b 8b 2d 3b | 4b 4d 5b 5d 6b 6d 6b 6d | "
        "4d:8 | 4d:8 | 5b:8 | 6b:8"
    )
    found = remarks(many)
    assert len(found) == MOST_REMARKS
    assert [r.topic for r in found][:3] == ["missing notes", "bends", "overblows"]
    assert all(str(r) == r.text and r.text.endswith(".") for r in found)


def test_an_empty_tune_has_no_remarks() -> None:
    assert remarks(by_hand("z:8 | z:8")) == ()
