"""Facts of a tune, and the hash of its music."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import pytest

from reedwright.shelf.facts.music import music_hash
from reedwright.shelf.facts.working_out import facts_of
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes
from reedwright.tune.transpose import transposed

JIG = """X:7
T:The Salt   Quay
T:Quay of Salt, The
C:A. Nobody
C:B. Nobody
R:Jig
Z:abc-copyright nobody's
M:6/8
L:1/8
K:Edor
|: B | "Em"e2f ~g3 | {a}g2f ede | fed BAF | [1 D3 D2 :| [2 D3 EFG ||
w: not sung
"""


def tune_of(text: str) -> Tune:
    (tune,) = read_abc(text)
    assert isinstance(tune, Tune)
    return tune


def test_the_facts_are_those_of_the_page() -> None:
    facts = facts_of(tune_of(JIG))
    assert facts.number == "7"
    assert facts.title == "The Salt Quay"
    assert facts.titles == ("The Salt Quay", "Quay of Salt, The")
    assert (facts.type, facts.key, facts.tonic, facts.mode) == ("jig", "E dorian", 4, "dorian")
    assert facts.metre == "6/8"
    assert (facts.lowest, facts.highest) == (62, 79)  # D4 to G5; the grace note A5 is none of it
    assert facts.pitches == (62, 64, 66, 67, 69, 71, 74, 76, 78, 79)
    assert facts.composer == "A. Nobody; B. Nobody"
    assert facts.rights == "nobody's"
    assert ("C", "B. Nobody") in facts.fields
    # Once through: both endings, and the join back to the upbeat in one strip.
    assert [note.midi for note in facts.melody[0][:4]] == [71, 76, 78, 79]


def test_a_tune_without_key_or_title_has_facts() -> None:
    facts = facts_of(tune_of("X:1\nK:none\nc2 d2|e4|]\n"), "found in a drawer")
    assert (facts.title, facts.titles) == ("found in a drawer", ())
    assert (facts.key, facts.tonic, facts.mode) == ("none", -1, "none")


def test_a_tune_of_nothing_has_facts() -> None:
    tune = tune_of("X:1\nT:a\nM:4/4\nK:C\nc4|]\n")
    facts = facts_of(replace(tune, voices=()))
    assert (facts.notes, facts.bars, facts.lowest, facts.highest) == (0, 0, 0, 0)
    assert facts.pitches == facts.melody == ()


def test_of_several_voices_the_first_counts() -> None:
    facts = facts_of(tune_of("X:1\nT:a\nM:4/4\nL:1/4\nK:C\nV:1\ncdef|\nV:2\nC,4|\n"))
    assert facts.pitches == (72, 74, 76, 77)
    assert facts.notes == 4


def test_a_tune_whose_repeats_have_no_end_has_the_facts_of_its_page() -> None:
    bars = "cd-de|f2 z2|" * 30
    text = f"X:1\nT:a\nP:A999\nM:4/4\nL:1/4\nK:C\nP:A\n{bars}\n"
    facts = facts_of(tune_of(text))
    assert facts.form == ""
    assert len(facts.melody[0]) == 4 * 30
    assert [(note.midi, note.length) for note in facts.melody[0][:4]] == [
        (72, 1.0),
        (74, 2.0),
        (76, 1.0),
        (77, 2.0),
    ]


def test_the_music_is_the_same_whatever_is_said_of_it() -> None:
    one = tune_of(JIG)
    other = tune_of(
        """X:99
T:Another Name
M:6/8
L:1/4
Q:90
K:D
|: B/ | ef/ !trill!g>.g/z0 | {bag}(gf/) e/d/e/ | f/e/d/ B/A/F/ | [1 D3/ D :| [2 D3/ E/F/G/ |]
""".replace("!trill!g>.g/z0", "g3/")
    )
    assert music_hash(one) == music_hash(other)


@pytest.mark.parametrize(
    ("what", "was", "now"),
    [
        ("a pitch", "fed BAF", "fed BA^F,"),
        ("a length", "g2f ede", "g>f ede"),
        ("a repeat", "[2 D3 EFG ||", "[2 D3 EFG :|"),
        ("a bar line", "e2f ~g3 |", "e2f ~g3 "),
        ("a tie", "~g3 |", "~g3- |"),
    ],
)
def test_other_music_has_another_hash(what: str, was: str, now: str) -> None:
    assert was in JIG
    assert music_hash(tune_of(JIG)) != music_hash(tune_of(JIG.replace(was, now))), what


def test_another_key_is_other_music() -> None:
    tune = tune_of(JIG)
    assert music_hash(tune) != music_hash(transposed(tune, 2))
    assert music_hash(tune) != music_hash(transposed(tune, octaves=1))


def test_pitches_are_those_that_music21_reads() -> None:
    """Against music21's own reader of ABC (its documentation, module `abcFormat`)."""
    import music21

    folder = Path(music21.__file__).parent / "corpus" / "oneills1850"
    tunes = [
        tune
        for file in sorted(folder.glob("*.abc"))[::8]
        for tune in read_tunes(file)
        if isinstance(tune, Tune) and len(tune.voices) == 1
    ]
    for tune in random.Random(11).sample(tunes, 8):
        score = music21.converter.parse(tune.text, format="abc")
        theirs = {note.pitch.midi for note in score.recurse().notes if not note.duration.isGrace}
        facts = facts_of(tune)
        assert set(facts.pitches) == theirs, tune.title
        assert (facts.lowest, facts.highest) == (min(theirs), max(theirs))
