"""The card for the customer: what it says, judged by music21, and how it is printed."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import music21
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from printed_pages import (
    MARKUP,
    PIXELS,
    fonts_embedded,
    line_places,
    of_kind,
    pages_of,
    raster,
    read,
    type_sizes,
)

from reedwright.errors import ReedwrightError
from reedwright.harp.cautions import CARD_CAUTION
from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Harp, Reed, Technique
from reedwright.harp.naming import KEYS
from reedwright.page.bench.card import harp_card_pdf
from reedwright.page.bench.cardcontent import (
    CARE,
    VALVE_CARE,
    differences,
    position_words,
    positions,
    standard_harp,
    tunes_on,
    tuning_words,
    valve_words,
)
from reedwright.player.loading import load_profile
from reedwright.player.profile import Profile
from reedwright.tab.ranking import rank_harps
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.targets.model import TargetWishes

EXAMPLES = Path(__file__).parents[2] / "examples" / "tunes.abc"
TUNINGS = ("richter", "richter-raised-3-blow", "natural-minor", "harmonic-minor", "solo")


@pytest.fixture(scope="module")
def examples() -> list[Tune]:
    return [tune for tune in read_tunes(EXAMPLES) if isinstance(tune, Tune)]


@pytest.fixture(scope="module")
def raised() -> Harp:
    return make_harp("C", "richter-raised-3-blow", valves="half")


# What differs


def test_a_raised_reed_is_told_with_what_stands_there_otherwise(raised: Harp) -> None:
    assert tuning_words(raised, standard_harp(raised)) == [
        "All notes are those of a standard C harp, but: 3 blow is A instead of G, "
        "a whole tone higher."
    ]


def test_octaves_of_one_change_are_told_together_and_the_name_is_explained() -> None:
    """Natural minor flattens the thirds of blow and draw chord (docs/harps.md, common practice)."""
    harp = make_harp("A", "natural-minor")
    assert tuning_words(harp, standard_harp(harp)) == [
        "All notes are those of a standard D harp, but: 2, 5 and 8 blow are F instead of F♯, a "
        "semitone lower; 3 and 7 draw are C instead of C♯, a semitone lower.",
        "It is named A after its second position.",
    ]


def test_a_standard_harp_is_called_one_and_many_differences_send_to_the_chart() -> None:
    harp = make_harp("Bb", register="low")
    assert tuning_words(harp, standard_harp(harp)) == [
        "Its notes are those of a standard low B♭ harp."
    ]
    solo = make_harp("C", "solo")
    said = tuning_words(solo, standard_harp(solo))
    assert said[0] == "15 reeds differ from a standard C harp: go by the chart."
    assert said[1].startswith("Every octave laid out alike")


reeds = st.builds(Reed, st.integers(1, 10), st.sampled_from(list(Breath)))


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(KEYS), st.dictionaries(reeds, st.integers(-4, 4), max_size=12))
def test_differences_make_the_other_harp_of_the_first(key: str, moves: dict[Reed, int]) -> None:
    base = make_harp(key)
    changed = {
        breath: tuple(
            midi + moves.get(Reed(hole, breath), 0) for hole, midi in enumerate(notes, start=1)
        )
        for breath, notes in ((Breath.BLOW, base.tuning.blow), (Breath.DRAW, base.tuning.draw))
    }
    tuning = replace(base.tuning, blow=changed[Breath.BLOW], draw=changed[Breath.DRAW])
    found = differences(replace(base, tuning=tuning), base)
    again = {Reed(hole, each.breath): each.semitones for each in found for hole in each.holes}
    assert again == {reed: by for reed, by in moves.items() if by}
    assert len({(each.breath, each.note, each.semitones) for each in found}) == len(found)


def test_valves_are_told_by_their_reeds(raised: Harp) -> None:
    assert valve_words(raised).startswith("Valved reeds: blow 1 to 6 and draw 7 to 10.")
    assert valve_words(make_harp("C", "slide-solo-12")).startswith("Every reed is valved.")
    assert valve_words(make_harp("C")) == ""


# What can be played


SCALES = {
    "major": music21.scale.MajorScale,
    "minor": music21.scale.MinorScale,
    "harmonic minor": music21.scale.HarmonicMinorScale,
    "dorian": music21.scale.DorianScale,
    "mixolydian": music21.scale.MixolydianScale,
    "lydian": music21.scale.LydianScale,
    "phrygian": music21.scale.PhrygianScale,
}


def whole_octaves(harp: Harp, tonic: str, mode: str, bends: bool) -> list[int]:
    """MIDI tonics above which the harp has the whole scale of music21."""
    allowed = {Technique.NATURAL} | ({Technique.BEND, Technique.VALVED_BEND} if bends else set())
    have = {s.midi for s in harp.soundings if s.technique in allowed and not s.slide}
    scale = SCALES[mode](tonic.replace("♭", "-").replace("♯", "#"))
    found = []
    for octave in range(2, 8):
        low = music21.pitch.Pitch(f"{scale.tonic.name}{octave}")
        notes = scale.getPitches(low, low.transpose("P8"))
        assert len(notes) == 8
        if {pitch.midi for pitch in notes} <= have:
            found.append(low.midi)
    return found


@pytest.mark.parametrize("tuning", TUNINGS)
@pytest.mark.parametrize(("key", "valves"), [("C", "none"), ("F#", "half"), ("Bb", "none")])
def test_octaves_that_need_no_bend_are_those_of_music21s_scales(
    tuning: str, key: str, valves: str
) -> None:
    harp = make_harp(key, tuning, valves=valves)
    told = positions(harp)
    assert told
    for line in told:
        plain = [low.midi for low, _ in line.plain]
        assert plain == whole_octaves(harp, line.tonic, line.mode, bends=False)
        bent = whole_octaves(harp, line.tonic, line.mode, bends=True)
        assert [low.midi for low, _ in line.bent] == [midi for midi in bent if midi not in plain]


def test_the_positions_of_a_standard_harp_are_the_usual_ones() -> None:
    """Straight, cross and slant harp on a C harp: C, G, D (common practice, docs/sources.md)."""
    said = {each["position"]: each for each in map(position_words, positions(make_harp("C")))}
    assert [said[name]["key"] for name in ("first", "second", "third")] == [
        "C major",
        "G mixolydian",
        "D dorian",
    ]
    assert said["first"]["where"].startswith("no bends from 4 blow to 7 blow")
    assert said["second"]["where"].endswith("with bends from 2 draw to 6 blow")


def test_a_harmonic_minor_harp_plays_its_scale_in_first_position() -> None:
    (first, *_) = positions(make_harp("D", "harmonic-minor"))
    assert (first.tonic, first.mode) == ("D", "harmonic minor")
    assert position_words(first)["where"].startswith("no bends from 4 blow to 7 blow")


def test_raising_three_blow_frees_the_low_octave_of_second_position(raised: Harp) -> None:
    (second,) = [line for line in positions(raised) if line.number == 2]
    assert position_words(second)["where"] == "no bends from 2 draw to 9 blow"


@pytest.mark.parametrize("harp", ["G", "D", "C:richter-raised-3-blow", "A:natural-minor"])
def test_tunes_are_sorted_as_the_ranking_finds_them(examples: list[Tune], harp: str) -> None:
    """A profile without techniques lacks a note where there is a bend; one with bends does not."""
    key, _, tuning = harp.partition(":")
    one = make_harp(key, tuning or "richter")
    player = load_profile("player")
    without = replace(player, techniques=frozenset())
    found = tunes_on(one, examples)

    def lacking(tune: Tune, profile: Profile) -> int:
        bare = replace(tune, voices=(tune.voices[0],))
        return min(ranked.missing for ranked in rank_harps(bare, profile, [one]))

    for tune in examples:
        if lacking(tune, without) == 0:
            assert tune.title in found.plain
        elif lacking(tune, player) == 0:
            assert tune.title in found.bent
        else:
            assert tune.title in found.incomplete


def test_a_tune_without_notes_is_not_named(examples: list[Tune]) -> None:
    silent = replace(examples[0], voices=())
    assert tunes_on(make_harp("C"), [silent]) == ((), (), ())


# How it is printed


def test_the_card_says_how_it_is_tuned_what_to_play_and_how_to_keep_it(
    raised: Harp, examples: list[Tune]
) -> None:
    targets = reed_targets(raised, TargetWishes("just", a4=442.0))
    pdf = harp_card_pdf(targets, tunes=examples, maker="Ann Wren", date="1 May 2026")
    front, back = pages_of(pdf)
    assert front.startswith("C harp, raised 3 blow, half-valved")
    for part in (
        "3 blow is A instead of G, a whole tone higher.",
        "Tuned to five-limit just intonation, A4 = 442 Hz.",
        "Valved reeds: blow 1 to 6 and draw 7 to 10.",
        "This harp is for",
    ):
        assert part in front
    told = ("uncleaned", "dizzy", "cleaned on")
    for part in ("First position C major", "no bends from 2 draw to 9 blow", CARD_CAUTION, *told):
        assert part in back
    for part in (*CARE, VALVE_CARE, "Ann Wren, 1 May 2026"):
        assert part in back
    found = tunes_on(raised, examples)
    labels = ("Without bends", "With bends", "Not all notes are there")
    for label, titles in zip(labels, found, strict=True):
        assert (f"{label}: {', '.join(titles)}." in back) == bool(titles)
        assert (f"{label}:" in back) == bool(titles)
    (chart,) = of_kind(pdf, "/Figure")
    assert "Blow: 1 C4, 2 E4, 3 A4" in str(chart["/Alt"])


@pytest.mark.parametrize(
    ("paper", "count", "pages", "cards"),
    [("a4", 2, 2, 2), ("letter", 5, 4, 4), ("a5", 2, 4, 1)],
)
def test_cards_are_true_to_size_and_backs_lie_behind_fronts(
    paper: str, count: int, pages: int, cards: int
) -> None:
    """Cut marks stand from one to four millimetres outside of the cards."""
    pdf = harp_card_pdf(make_harp("C"), count=count, paper=paper)
    assert len(read(pdf).pages) == pages
    assert [page.count(CARD_CAUTION) for page in pages_of(pdf)] == [0, cards] * (pages // 2)
    places = []
    for number in (1, 2):
        page = raster(pdf, number)
        down = line_places(page[:, round(_outside(page, 1) * PIXELS)])
        across = line_places(page[round(_outside(page, 0) * PIXELS)])
        assert np.diff(across) == pytest.approx(132.0, abs=0.1)
        assert np.diff(down) == pytest.approx(96.0, abs=0.1)
        assert (len(across) - 1) * (len(down) - 1) == cards
        width, height = page.shape[1] / PIXELS, page.shape[0] / PIXELS
        assert across[0] + across[-1] == pytest.approx(width, abs=0.15), "in the middle"
        assert down[0] + down[-1] == pytest.approx(height, abs=0.15)
        places.append((across, down))
    assert places[0] == places[1]


def _outside(page: np.ndarray, axis: int) -> float:
    """A place, mm, where a row (axis 0) or column crosses only cut marks: just after they begin."""
    inked = np.flatnonzero((page < 200).any(axis=1 - axis))
    return float(inked[0]) / PIXELS + 1.5


def test_all_keys_and_tunings_find_room_in_type_that_can_be_read(examples: list[Tune]) -> None:
    harps = [
        make_harp("F#", "natural-minor", valves="half"),
        make_harp("Eb", "slide-solo-12"),
        make_harp("Db", "solo", "low", valves="full"),
    ]
    for harp in harps:
        pdf = harp_card_pdf(
            reed_targets(harp, TargetWishes("chords-seven", a4=443.0)),
            tunes=examples,
            name="The harp of the old ferry house",
            owner="Bartholomew Featherstonehaugh-Llewellyn",
        )
        assert len(read(pdf).pages) == 2
        assert min(type_sizes(pdf)) >= 5.5


def test_more_tunes_than_there_is_room_for_are_counted(examples: list[Tune]) -> None:
    many = [
        replace(tune, titles=(f"{tune.title} number {i}",)) for i in range(30) for tune in examples
    ]
    back = pages_of(harp_card_pdf(make_harp("G"), tunes=many))[1]
    shown = len(re.findall(r" number \d+\b", back))
    counted = sum(int(a or b) for a, b in re.findall(r"and (\d+) more|: (\d+) tunes", back))
    assert shown >= 8
    assert shown + counted == len(many)
    assert CARD_CAUTION in back


def test_names_print_as_typed_and_too_many_words_are_refused() -> None:
    pdf = harp_card_pdf(make_harp("C"), name=MARKUP, owner="Ann " + MARKUP, maker=MARKUP)
    front, back = pages_of(pdf)
    assert front.startswith(f"{MARKUP} C harp")
    assert f"This harp is for Ann {MARKUP}" in front
    assert MARKUP in back
    with pytest.raises(ReedwrightError, match="words do not fit"):
        harp_card_pdf(make_harp("C"), name=MARKUP * 30)
    with pytest.raises(ReedwrightError, match="one or more"):
        harp_card_pdf(make_harp("C"), count=0)


def test_the_card_is_tagged_once_with_fonts_and_the_same_bytes() -> None:
    pdf = harp_card_pdf(make_harp("C"), count=4)
    assert b"pdfuaid:part" in pdf
    assert len(of_kind(pdf, "/H1")) == len(of_kind(pdf, "/Figure")) == 1
    assert [str(kind["/S"]) for kind in of_kind(pdf, "/H2")] == ["/H2"] * 2, "no tunes, no heading"
    assert all(fonts_embedded(pdf))
    assert pdf == harp_card_pdf(make_harp("C"), count=4)
