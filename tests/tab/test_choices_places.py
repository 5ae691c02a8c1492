"""Places in a tune, the rule by which a note is found again, and which table is a tune's."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath
from reedwright.tab.choices import (
    Breathe,
    Choice,
    ChoiceBook,
    ChoicesError,
    Never,
    NotePlace,
    Ornamented,
    Play,
    TuneChoices,
    Way,
    note_places,
    put_aside,
    resolve,
    with_choice,
    with_weights,
)
from reedwright.tab.choices.pointing import note_at
from reedwright.tab.ornaments.model import Amount
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes
from reedwright.tune.writtenout import written_out

DEMO = Path(__file__).parents[2] / "examples" / "tunes.abc"
TWO_DRAW, THREE_BLOW = Way(2, Breath.DRAW), Way(3, Breath.BLOW)


def tune_of(body: str, title: str = "T", number: str = "1", meter: str = "4/4") -> Tune:
    (tune,) = read_abc(f"X:{number}\nT:{title}\nM:{meter}\nL:1/4\nK:C\n{body}\n")
    assert isinstance(tune, Tune)
    return tune


def places(body: str, meter: str = "4/4") -> list[str]:
    """Such as `A1:2 G`: part, bar, beat, letter."""
    found = []
    for note in note_places(tune_of(body, meter=meter)):
        part, bar, beat, pitch = note.place[:4]
        found.append(f"{part}{bar}:{float(beat):g} {pitch[0]}")
    return found


def choice(
    part: str, bar: int, beat: float, pitch: str, between: str = "", way: Way = TWO_DRAW
) -> Choice:
    return Choice(NotePlace(part, bar, Fraction(beat), pitch, between), Play(way))


def found_at(tune: Tune, *choices: Choice) -> list[str]:
    """Where each choice finds its note: `A1:2`, or the reason why it finds none."""
    resolved = resolve(TuneChoices(choices=choices), tune, make_harp("C"))
    at = {id(each.choice): each.note.place for each in resolved.found}
    aside = {id(each.choice): each.reason for each in resolved.aside}
    return [
        f"{at[id(each)].part}{at[id(each)].bar}:{float(at[id(each)].beat):g}"
        if id(each) in at
        else aside[id(each)]
        for each in choices
    ]


def test_bars_are_counted_within_the_part_and_an_upbeat_is_bar_0() -> None:
    assert places("G|:CDEF|GABc|CDEF:|cBAG|FEDC|CDEF|]") == [
        "A0:4 G",
        *(f"A1:{beat} {note}" for beat, note in enumerate("CDEF", 1)),
        *(f"A2:{beat} {note}" for beat, note in enumerate("GABC", 1)),
        *(f"A3:{beat} {note}" for beat, note in enumerate("CDEF", 1)),
        *(f"B1:{beat} {note}" for beat, note in enumerate("CBAG", 1)),
        *(f"B2:{beat} {note}" for beat, note in enumerate("FEDC", 1)),
        *(f"B3:{beat} {note}" for beat, note in enumerate("CDEF", 1)),
    ]


def test_the_upbeat_of_a_later_part_is_its_bar_0() -> None:
    found = places("G|:CDEF|GABc|CDE:|:G|cBAG|FEDC|CDE:|")
    assert found[12] == "B0:4 G" and found[13] == "B1:1 C"


def test_variant_endings_belong_to_their_part() -> None:
    found = places("|:CDEF|GABc|1 C4:|2 D4||cBAG|FEDC|]")
    assert found[8:11] == ["A3:1 C", "A4:1 D", "B1:1 C"]


def test_a_label_names_its_part_and_other_letters_pass_over_it() -> None:
    found = places("P:B\nCDEF|GABc||CDEF|GABc||\nP:A\ncBAG|FEDC|]")
    assert [found[0][0], found[8][0], found[16][0]] == ["B", "C", "A"]


def test_labels_that_stand_twice_get_a_prime() -> None:
    notes = note_places(tune_of("P:A\nCDEF|GABc||\nP:A\ncBAG|FEDC|]"))
    assert list(dict.fromkeys(note.place.part for note in notes)) == ["A", "A'"]


def test_a_section_too_short_for_a_part_goes_with_the_next_and_at_the_end_with_the_last() -> None:
    found = places("CDEF|:GABc|CDEF:|G4||")
    assert {each[0] for each in found} == {"A"}


def test_beats_are_dotted_in_six_eight() -> None:
    beats = [note.place.beat for note in note_places(tune_of("C/D/E/ F/G/A/|", meter="6/8"))]
    third = Fraction(1, 3)
    assert beats == [1, 1 + third, 1 + 2 * third, 2, 2 + third, 2 + 2 * third]


def test_neighbours_are_those_on_the_page() -> None:
    notes = note_places(tune_of("C^D z F|G4|"))
    assert [note.place.between for note in notes] == ["- D#4", "C4 F4", "D#4 G4", "F4 -"]


@pytest.mark.parametrize("tune", list(read_tunes(DEMO)), ids=lambda tune: tune.title)
def test_every_note_of_the_demo_tunes_has_a_place_of_its_own(tune) -> None:
    seen = [note.place[:4] for note in note_places(tune)]
    assert len(set(seen)) == len(seen) == len(list(tune.voices[0].notes))


# Finding notes again.

TUNE = "|:GAGE|GFEG|CGEG:|:cBAG|AGFE|DEFG:|"


def test_an_exact_place_is_found_and_the_note_by_its_sound() -> None:
    tune = tune_of("^F2G2|")
    assert found_at(tune, choice("A", 1, 1, "Gb4")) == ["A1:1"]


def test_a_bar_added_in_one_part_moves_nothing_in_the_other() -> None:
    edited = tune_of(TUNE.replace("GFEG", "CCCC|GFEG"))
    assert found_at(edited, choice("B", 1, 4, "G4"), choice("B", 2, 1, "A4")) == ["B1:4", "B2:1"]


def test_a_note_that_moved_within_its_bar_is_found_at_the_nearest_beat() -> None:
    edited = tune_of("|:G/A/GE2|")
    assert found_at(edited, choice("A", 1, 3, "G4"), choice("A", 1, 1, "G4")) == ["A1:2", "A1:1"]
    assert "no G4 is near that beat" in found_at(tune_of("G/A/B2z|"), choice("A", 1, 4, "G4"))[0]


def test_a_note_in_a_bar_that_moved_is_found_by_its_neighbours() -> None:
    edited = tune_of(TUNE.replace("GFEG", "dddd|GFEG"))
    assert found_at(edited, choice("A", 3, 2, "G4", "C4 E4")) == ["A4:2"]
    # Without the neighbours nothing tells which G is meant.
    assert found_at(tune_of("dddd|dddd|GAGA|"), choice("A", 1, 1, "G4")) == [
        "the note there is D5 now"
    ]


def test_where_the_music_moved_an_equal_note_in_the_old_place_is_not_taken_for_it() -> None:
    # Bar 1 is put in before: its G stands where the pinned one stood, among other notes.
    edited = tune_of("|:cGcc|FGAB|cccc:|")
    assert found_at(edited, choice("A", 1, 2, "G4", "F4 A4")) == ["A2:2"]
    # With one neighbour as it was it is so only if the other note is a bar off.
    edited = tune_of("|:FGcc|FGAB|cccc:|")
    assert found_at(edited, choice("A", 1, 2, "G4", "F4 A4")) == ["A2:2"]
    edited = tune_of("|:FGcc|cccc|FGAB:|")
    assert found_at(edited, choice("A", 1, 2, "G4", "F4 A4")) == ["A1:2"]


def test_of_several_notes_in_the_same_surroundings_the_one_a_bar_off_is_meant() -> None:
    edited = tune_of("|:cccc|FGAB|cccc|cccc|FGAB:|")
    assert found_at(edited, choice("A", 1, 2, "G4", "F4 A4")) == ["A2:2"]
    edited = tune_of("|:cccc|FGAB|cccc|FGAB:|")
    assert found_at(edited, choice("A", 3, 2, "G4", "F4 A4")) == ["the note there is C5 now"]


def test_a_note_that_went_to_another_part_is_found_if_there_is_but_one_such() -> None:
    edited = tune_of("|:cccc|dddd:|:FGAB|eeee:|")
    assert found_at(edited, choice("A", 1, 2, "G4", "F4 A4")) == ["B1:2"]
    twice = tune_of("|:cccc|dddd:|:FGAB|FGAB:|")
    assert found_at(twice, choice("A", 1, 2, "G4", "F4 A4")) == ["the note there is C5 now"]


def test_two_choices_never_fall_on_one_note() -> None:
    # The second G has gone; the first keeps its own choice.
    edited = tune_of("GAEE|")
    one, two = choice("A", 1, 1, "G4"), choice("A", 1, 2, "G4", way=THREE_BLOW)
    at = found_at(edited, two, one)
    assert at[1] == "A1:1" and "A4 now" in at[0]
    same = found_at(edited, one, replace_way(one))
    assert same == ["A1:1", "another choice stands on that note already"]


def replace_way(one: Choice) -> Choice:
    return one._replace(says=Play(THREE_BLOW))


def test_a_choice_that_fits_no_note_is_told_kept_and_tried_again() -> None:
    tune, edited = tune_of(TUNE), tune_of(TUNE.replace("GAGE", "CAGE"))
    pin = choice("A", 1, 1, "G4", "- A4")
    resolved = resolve(TuneChoices(choices=(pin,)), edited, make_harp("C"))
    (notice,) = resolved.notices
    for part in ("Part A bar 1 beat 1, G4", "play 2 draw", "the note there is C4 now", "kept"):
        assert part in notice
    assert resolved.wishes.fixed == {}
    aside = put_aside(TuneChoices(choices=(pin,)), resolved)
    assert aside.choices == () and aside.aside[0].choice == pin
    back = resolve(aside, tune, make_harp("C"))
    assert [each.choice for each in back.found] == [pin]
    assert "fits again" in back.notices[0]
    assert put_aside(aside, back).choices == (pin,)


# Wishes.


def test_choices_become_wishes_by_id_of_the_moved_tune() -> None:
    tune = tune_of(TUNE)
    note = note_places(tune)[0]
    choices = TuneChoices(
        amount=Amount.FULL,
        choices=(
            choice("A", 1, 1, "G4"),
            Choice(NotePlace("A", 2, Fraction(1), "G4"), Never((THREE_BLOW, Way(9, Breath.BLOW)))),
            Choice(NotePlace("A", 3, Fraction(2), "G4"), Ornamented(None)),
            Choice(NotePlace("B", 1, Fraction(1), "C5"), Breathe(False)),
        ),
    )
    harp = make_harp("C")
    wishes = resolve(choices, tune, harp).wishes
    assert wishes.fixed == {note.id: TWO_DRAW.on(harp)}
    (forbidden,) = wishes.forbidden.values()
    assert forbidden == {THREE_BLOW.on(harp)}  # what sounds another note forbids nothing
    assert list(wishes.ornaments.values()) == [None]
    assert list(wishes.breaths.values()) == [False]
    assert wishes.amount is Amount.FULL
    # On the harp a fourth lower the same hole sounds the tune moved by as much.
    lower = resolve(choices, tune, make_harp("G"), semitones=-5).wishes
    assert [way.hole for way in lower.fixed.values()] == [2]


def test_a_pin_for_another_harp_is_a_notice_and_not_put_aside() -> None:
    tune = tune_of(TUNE)
    resolved = resolve(TuneChoices(choices=(choice("A", 1, 1, "G4"),)), tune, make_harp("D"))
    assert resolved.wishes.fixed == {} and resolved.aside == ()
    (notice,) = resolved.notices
    assert "made for another harp" in notice and "D harp has A4 there" in notice


def test_a_choice_holds_each_time_or_the_one_time_that_it_names() -> None:
    tune, harp = tune_of(TUNE), make_harp("C")
    note = note_places(tune)[0]
    both = choice("A", 1, 1, "G4")
    second = both._replace(place=both.place._replace(time=2), says=Ornamented(None))
    choices = TuneChoices(second_time=True, choices=(both, second))
    resolved = resolve(choices, tune, harp)
    assert set(resolved.wishes.fixed) == {note.id, f"{note.id}t2"}
    assert set(resolved.wishes.ornaments) == {f"{note.id}t2"}
    ids = {each.id for each in written_out(tune).voices[0].notes}
    assert set(resolved.wishes.fixed) | set(resolved.wishes.ornaments) <= ids
    once = resolve(replace(choices, second_time=False), tune, harp)
    assert once.wishes.ornaments == {} and "not written out" in once.notices[0]


def test_weights_change_the_player_for_this_tune() -> None:
    from reedwright.player.loading import load_profile

    player = load_profile("player")
    changed = with_weights(player, TuneChoices(weights={"leap": 3.0}))
    assert changed.weights.leap == 3.0
    assert replace(changed, weights=player.weights) == player


def test_a_new_choice_takes_the_place_of_its_like_on_the_note() -> None:
    tune = tune_of(TUNE)
    note = note_places(tune)[0]
    place = note.place

    def add(choices: TuneChoices, says) -> TuneChoices:
        resolved = resolve(choices, tune, make_harp("C"))
        return with_choice(choices, resolved, note, Choice(place, says))

    choices = add(TuneChoices(), Play(TWO_DRAW))
    choices = add(choices, Breathe(True))
    choices = add(choices, Play(THREE_BLOW))
    assert [each.says for each in choices.choices] == [Breathe(True), Play(THREE_BLOW)]
    choices = add(choices, Never((THREE_BLOW,)))  # it cannot be both
    choices = add(choices, Never((Way(9, Breath.DRAW),)))
    assert [each.says for each in choices.choices] == [
        Breathe(True),
        Never((THREE_BLOW, Way(9, Breath.DRAW))),
    ]
    choices = add(choices, Play(THREE_BLOW))
    assert [each.says for each in choices.choices] == [
        Breathe(True),
        Never((Way(9, Breath.DRAW),)),
        Play(THREE_BLOW),
    ]


# Which table is the tune's.


def book(*tables: TuneChoices) -> ChoiceBook:
    found = ChoiceBook()
    for table in tables:
        found = found.changed(table)
    return found


def test_a_tune_is_known_by_its_title_and_then_by_its_number() -> None:
    mine = book(TuneChoices("The Reel", "1", harp="C"), TuneChoices("A Jig", "2", harp="D"))
    assert mine.of(tune_of(TUNE, "the  REEL", "2")).harp == "C"  # renumbered
    assert mine.of(tune_of(TUNE, "The Old Reel", "1")).harp == "C"  # renamed
    assert mine.of(tune_of(TUNE, "Another", "7")).empty
    new = mine.of(tune_of(TUNE, "Another", "7"))
    assert (new.title, new.number, new.table) == ("Another", "7", None)


IN_BOOK = [("1", "New"), ("2", "The Reel")]


def test_of_two_tunes_with_one_title_each_has_its_own_table() -> None:
    both = [("1", "T"), ("2", "T")]
    mine = book(TuneChoices("T", "1", harp="C"))
    assert mine.of(tune_of(TUNE, "T", "1"), both).harp == "C"
    assert mine.of(tune_of(TUNE, "T", "2"), both).table is None
    assert mine.of(tune_of(TUNE, "T", "2"), [("2", "T")]).harp == "C"  # the one, renumbered


def test_a_number_does_not_take_the_table_of_another_tune_of_the_book() -> None:
    mine = book(TuneChoices("The Reel", "1", harp="C"))
    # A tune was put in before: it has the reel's old number.
    assert mine.of(tune_of(TUNE, "New", "1"), IN_BOOK).empty
    assert mine.of(tune_of(TUNE, "The Reel", "2"), IN_BOOK).harp == "C"


def test_a_number_alone_does_not_do_where_most_choices_fail() -> None:
    pins = (choice("A", 1, 1, "F5"), choice("A", 2, 1, "F5"), choice("A", 1, 1, "G4"))
    mine = book(TuneChoices("Other", "1", choices=pins))
    assert mine.of(tune_of(TUNE, "T", "1")).table is None
    assert book(TuneChoices("Other", "1", choices=pins[1:])).of(tune_of(TUNE, "T", "1")).table == 0


def test_of_tables_with_one_title_that_which_fits_best_then_the_number_then_the_first() -> None:
    fits, fails = choice("A", 1, 1, "G4"), choice("A", 1, 1, "F5")
    one = TuneChoices("T", "1", choices=(fails,))
    two = TuneChoices("T", "2", choices=(fits,))
    assert book(one, two).of(tune_of(TUNE, "T", "1")).number == "2"
    empty = TuneChoices("T", "1"), TuneChoices("T", "2")
    assert book(*empty).of(tune_of(TUNE, "T", "2")).number == "2"
    assert book(*empty).of(tune_of(TUNE, "T", "9")).number == "1"


# Pointing.


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("1:2", "A1:2"),
        ("4:1", "B1:1"),
        ("B1:1", "B1:1"),
        ("b 2:3", "B2:3"),
        ("2:1:G4", "A2:1"),
        ("2:1:g4", "A2:1"),
    ],
)
def test_a_note_is_pointed_at_by_printed_bar_or_by_part(text: str, place: str) -> None:
    found = note_at(note_places(tune_of(TUNE)), text).place
    assert f"{found.part}{found.bar}:{found.beat}" == place


def test_decimals_point_at_a_third_of_a_beat() -> None:
    notes = note_places(tune_of("C/D/E/ F/G/A/|", meter="6/8"))
    assert [note_at(notes, text).place.pitch for text in ("1:1.33", "1:2.67", "1:5/3")] == [
        "D4",
        "A4",
        "E4",
    ]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("3", "write bar:beat"),
        ("3:x", "write bar:beat"),
        ("3:1/0", "is not a beat"),
        ("9:1", "bars 1 to 6 have notes"),
        ("C1:1", "there are A and B"),
        ("1:1.5", "has, by beat, 1 G4, 2 A4, 3 G4, 4 E4"),
        ("1:1:A4", "no A4 begins there"),
        ("1:1:H4", "is not a note name"),
    ],
)
def test_pointing_at_nothing_says_what_there_is(text: str, says: str) -> None:
    with pytest.raises(ChoicesError, match=says):
        note_at(note_places(tune_of(TUNE)), text)
