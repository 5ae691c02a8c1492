"""Repeats, endings, parts and jumps are played in the order that readers of music expect.

Cases marked "abc2midi" were compared by hand with abc2midi 4.84's playing of the same ABC;
the others follow ABC standard 2.1 (sections 3.1.9, 4.8 to 4.10) or common practice.
"""

from dataclasses import replace
from fractions import Fraction

import pytest
from handmade_tunes import letters, tune_of
from hypothesis import given, settings
from hypothesis import strategies as st

from reedwright.tune.model import BarLine, Note, Rest
from reedwright.tune.playorder import EndlessTune
from reedwright.tune.unfold import unfold


@pytest.mark.parametrize(
    ("written", "played"),
    [
        ("|:C|D:|", "CDCD"),  # abc2midi
        ("C|D:|E|F:|", "CDCDEFEF"),  # abc2midi
        ("|:C::D:|", "CCDD"),
        ("|:C::|D", "CCCD"),  # ::| is three times
        ("|:C||D:|E|", "CDCDE"),  # abc2midi: a double bar inside a repeat starts nothing
        ("C||D:|", "CDD"),  # the standard's last double bar, which abc2midi passes over
        ("C|]D|E:|", "CDEDE"),
        ("|:C|D|E", "CDE"),  # a start that nothing ends
        ("|:C|D|:E|F:|", "CDCDEFEF"),  # abc2midi: the next start ends the open one
        ("C|D|1E:|2F|]", "CDECDF"),
        ("|:C|1D:|2E:|3F|G|]", "CDCECFG"),  # abc2midi: two closed endings and a third
        ("|:C|1,3D:|2E:|4F|]", "CDCECDCF"),  # abc2midi
        ("|:C|1,2D:|3E|]", "CDCDCE"),  # abc2midi
        ("|:C|1D|2E|]", "CDCE"),  # no repeat sign, but endings can only mean one
        ("|:C|1D:|E|F|]", "CDCEF"),  # abc2midi: the second ending is not marked
        ("|:C|1D:|2E::F|1G:|2A:|", "CDCEFGFA"),
        ("|:C|1D:|2E|:F|1G:|2A|]", "CDCEFGFA"),  # abc2midi
        ("|:C|1D:|2E||F|G:|", "CDCEFGFG"),
        ("C|1D:||2E||F|", "CDCEF"),  # a double bar between endings parts nothing
        ("C|2D|1E||F|", "CECDF"),  # endings in the wrong order are all played
        ("C|D|1E|F:|2G|A||B|]", "CDEFCDGAB"),  # abc2midi: endings of two bars
        ("|:C|1D:|2E|F|G|A|B:|", "CDCEFGABFGAB"),  # an unclosed ending is as long as the first
        ("|:C|1D:|2E|F:|", "CDCEF"),
        ("|:C|D:|2E|F|]", "CDCDEF"),  # a second ending without a first is played
    ],
)
def test_repeats_and_endings(written: str, played: str) -> None:
    assert letters(unfold(tune_of(written))) == played


@pytest.mark.parametrize(
    ("written", "order", "played"),
    [
        ("[P:A]C|D|[P:B]E|F|", "AABB", "CDCDEFEF"),
        ("[P:A]|:C|D:|[P:B]E|F|", "AB", "CDCDEF"),  # repeats within a part are played
        ("[P:A]C|[P:B]D|[P:C]E|", "ABACA", "CDCEC"),
        ("G|[P:A]C|[P:B]D|", "ABA", "GCDC"),  # bars before the first label once
        ("[P:A]C|[P:B]D|", "AXB", "CD"),  # a label that nothing bears
        ("[P:A]C|[P:B]D|", "XY", "CD"),  # none of them: as it stands
        ("[P:A]C|[P:B]D|[P:A]E|", "ABA", "CDE"),  # the order is written out already
        ("[P:A]C|[P:B]D|E:|", "AB", "CDEDE"),  # a repeat does not go back past its part
        ("C|D|", "AAB", "CD"),  # no labels
    ],
)
def test_part_order(written: str, order: str, played: str) -> None:
    assert letters(unfold(tune_of(written, part_order=tuple(order)))) == played


@pytest.mark.parametrize(
    ("written", "played"),
    [
        ("C|!fine!D|E|!dacapo!F|]", "CDEFCD"),
        ("C|!segno!D|!fine!E|!dalsegno!F|]", "CDEFDE"),
        ("C|!tocoda!D|!dacapo!E|!coda!F|G|]", "CDECDFG"),
        ("C|!coda!D|!dacapo!E|!coda!F|G|]", "CDECDFG"),  # two coda signs
        ("C|D|!dacapo!E|]", "CDE"),  # no fine: the dance may go round again, as any may
        ("C|D|!dalsegno!E|]", "CDE"),  # no segno either
        ("C|!segno!D|!dalsegno!E|]", "CDEDE"),  # from the sign to the end
        ("C|!fine!D|!dalsegno!E|]", "CDECD"),  # no segno: from the start
        ("|:C|1D:|!fine!2E||F|!dacapo!G|]", "CDCEFGCE"),  # no repeats after it, the last ending
        ("|:C|!fine!D|!dacapo!E:|", "CDECDECD"),  # the jump on the last time only
    ],
)
def test_jumps(written: str, played: str) -> None:
    assert letters(unfold(tune_of(written))) == played


def test_a_fermata_before_a_double_bar_is_the_fine_of_a_dacapo() -> None:
    tune = tune_of("C|D||E|!dacapo!F|]")
    bars = list(tune.bars)
    note = bars[1].notes[0]
    bars[1] = replace(bars[1], events=(replace(note, decorations=("fermata",)),))
    held = replace(tune, voices=(replace(tune.voices[0], bars=tuple(bars)),))
    assert letters(unfold(held)) == "CDEFCD"


def test_passes_are_counted_from_one() -> None:
    played = unfold(tune_of("|:C|1D:|2E||F|"))
    assert [bar.pass_number for bar in played.bars] == [1, 1, 2, 2, 1]


def test_parts_that_multiply_without_end_are_refused() -> None:
    with pytest.raises(EndlessTune, match="P: line"):
        unfold(tune_of("[P:A]" + "|".join("CDEFGAB" * 10), part_order=["A"] * 1000))


_SIGNS = st.fixed_dictionaries(
    {
        "repeat_open": st.booleans(),
        "repeat_close": st.sampled_from([0, 0, 0, 2, 3]),
        "ending": st.sampled_from([(), (), (), (), (1,), (2,), (1, 3), (3,)]),
        "ending_last": st.booleans(),
        "closing": st.sampled_from([BarLine.SINGLE, BarLine.DOUBLE, BarLine.FINAL]),
        "part": st.sampled_from([None, None, None, "A", "B", "C"]),
        "marks": st.lists(
            st.sampled_from(["segno", "coda", "fine", "dacapo", "dalsegno", "tocoda"]), max_size=2
        ).map(tuple),
    }
)


@settings(max_examples=250, deadline=None, derandomize=True)
@given(st.lists(_SIGNS, min_size=1, max_size=14), st.lists(st.sampled_from("ABC"), max_size=4))
def test_any_signs_play_out_and_end(signs: list[dict[str, object]], order: list[str]) -> None:
    tune = tune_of("CDE|" * len(signs), part_order=order)
    bars = tuple(replace(bar, **sign) for bar, sign in zip(tune.bars, signs, strict=True))
    played = unfold(replace(tune, voices=(replace(tune.voices[0], bars=bars),)))
    assert played.length == sum((p.bar.length for p in played.bars), Fraction(0))
    now = Fraction(0)
    for bar in played.bars:
        assert bar.onset == now
        now += bar.bar.length
    assert [n.onset for n in played.notes] == sorted(n.onset for n in played.notes)
    assert sum((s.length for s in played.sounding), Fraction(0)) == played.length
    if not order and not any(sign["marks"] for sign in signs):
        assert {p.bar.index for p in played.bars} == set(range(len(bars)))  # nothing is lost


@pytest.mark.parametrize(
    ("written", "sounding"),
    [
        ("CD-|D|", [("C", 0, 1), ("D", 1, 2)]),  # over a bar line
        ("|:C-|1C:|2CD|", [("C", 0, 2), ("C", 2, 2), ("D", 4, 1)]),  # into both endings
        ("C-D|", [("C", 0, 1), ("D", 1, 1)]),  # another pitch: no tie
        ("C-z|C|", [("C", 0, 1), ("C", 2, 1)]),  # a rest between: no tie
        ("C-C-|C|", [("C", 0, 3)]),
    ],
)
def test_ties(written: str, sounding: list[tuple[str, int, int]]) -> None:
    played = unfold(tune_of(written))
    assert [(s.pitch.step, s.onset, s.length) for s in played.sounding] == sounding
    assert [n.continues for n in played.notes].count(False) == len(sounding)


def test_chords_and_overlays_sound_and_only_the_voice_counts_as_notes() -> None:
    tune = tune_of("C2|")
    c = tune.bars[0].notes[0]
    e = c.pitches[0]._replace(step="E")
    g = c.pitches[0]._replace(step="G")
    chord = replace(c, pitches=(c.pitches[0], e), ties=(False, True))
    after = replace(c, id="n2", pitches=(e, g), ties=(False, False))
    low = replace(c, id="o1", pitches=(g.octaves_up(-1),), length=Fraction(4))
    bar = replace(tune.bars[0], events=(chord, after), overlays=((low,),))
    played = unfold(replace(tune, voices=(replace(tune.voices[0], bars=(bar,)),)))
    assert [(s.pitch.name, s.onset, s.length) for s in played.sounding] == [
        ("G3", 0, 4),
        ("C4", 0, 2),
        ("E4", 0, 4),  # the tied one of the chord
        ("G4", 2, 2),
    ]
    assert [n.note.id for n in played.notes] == ["n1", "n2"]
    assert [n.continues for n in played.notes] == [False, False]  # G4 on top is new


def test_beats_are_counted_in_the_metre_also_after_an_anacrusis() -> None:
    tune = tune_of("G|CDEF|C2|E2|")
    bars = [
        replace(bar, number=number) for bar, number in zip(tune.bars, [0, 1, 2, 2], strict=True)
    ]
    played = unfold(replace(tune, voices=(replace(tune.voices[0], bars=tuple(bars)),)))
    # The anacrusis is the fourth beat; the second half of the cut bar starts on its third.
    assert [n.beat for n in played.notes] == [4, 1, 2, 3, 4, 1, 3]


def test_a_long_rest_takes_its_time() -> None:
    tune = tune_of("C|D|")
    rest = Rest("r1", Fraction(12), tune.bars[0].place, whole_bar=True)
    bars = (replace(tune.bars[0], events=(rest,)), tune.bars[1])
    played = unfold(replace(tune, voices=(replace(tune.voices[0], bars=bars),)))
    assert [n.onset for n in played.notes] == [12]


def test_another_voice_is_played_when_asked_and_a_missing_one_is_silent() -> None:
    first, second = tune_of("C|D|"), tune_of("E|F|")
    both = replace(first, voices=(*first.voices, *second.voices))
    assert letters(unfold(both, voice=1)) == "EF"
    assert unfold(both, voice=2).length == 0


def test_every_played_note_is_the_written_value_itself() -> None:
    tune = tune_of("|:CD|E:|")
    written: list[Note] = list(tune.voices[0].notes)
    assert all(any(n.note is w for w in written) for n in unfold(tune).notes)
