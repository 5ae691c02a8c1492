"""Settings of one tune are known whatever their key, lengths, ornaments, bar lines and parts.

Tunes are those of the 1850 collection that music21 ships; settings of them are made by rule. Some
pairs are settings by their titles, printed by two editors a generation apart. The comparison is
checked against one that is written anew here with nothing but loops.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import music21
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from settings_made import MAKINGS, Setting, as_written, halved, made, read, written_out_once

from reedwright.tune.abc import read_abc
from reedwright.tune.likeness.collection import build_collection
from reedwright.tune.likeness.differing import (
    BarsAlike,
    Differing,
    differing,
    differing_words,
)
from reedwright.tune.likeness.grams import CODES, INTERVALS, grams
from reedwright.tune.likeness.melody import strips
from reedwright.tune.likeness.once import SAMPLES, heard, line_of, usual_unit
from reedwright.tune.likeness.pairing import (
    MOST,
    nearest,
    nearest_among,
    own_codes,
    pool_of,
)
from reedwright.tune.likeness.sameness import NOTHING, OFFERED, compare
from reedwright.tune.likeness.sketches import Sketch, joined, opened, sketch_of, sketches_of
from reedwright.tune.likeness.whole import alike
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes

CORPUS = Path(music21.__file__).parent / "corpus"
REEL = "|:gedB GABd|gedB ABAG|EGDG EGDG|EGAB A2 GE:|\n|:c2ec B2dB|ABAG EFGA|c2ec B2dB|ABAG E2 D2:|"
HEAD = "X:1\nT:Made\nM:4/4\nL:1/8\nK:G\n"


@lru_cache(maxsize=1)
def tunes() -> list[Tune]:
    files = sorted((CORPUS / "oneills1850").glob("*.abc"))[::6]
    return [each for file in files for each in read_tunes(file) if isinstance(each, Tune)]


@lru_cache(maxsize=1)
def sketches() -> list[Sketch]:
    return [sketched(tune) for tune in tunes()]


def sketched(tune: Tune) -> Sketch:
    return sketch_of(line_of(strips(tune)))


def tune(body: str, head: str = HEAD) -> Tune:
    (found,) = read_abc(f"{head}{body}\n")
    assert isinstance(found, Tune)
    return found


def in_corpus(file: str, title: str) -> Tune:
    found = [t for t in read_tunes(CORPUS / file) if isinstance(t, Tune) and t.title == title]
    assert len(found) == 1
    return found[0]


def words(one: Tune, other: Tune) -> str:
    ours, theirs = sketched(one), sketched(other)
    return differing_words(differing(ours, theirs, compare(ours, theirs)))


def made_of(count: int, seed: int) -> list[int]:
    random = np.random.default_rng(seed)
    long = [k for k, each in enumerate(sketches()) if len(each.line.midi) >= 32]
    return [int(k) for k in random.permutation(long)[:count]]


@pytest.mark.parametrize("name", MAKINGS)
def test_settings_made_by_rule_are_known(name: str) -> None:
    random = np.random.default_rng(4)
    asked = made_of(25, 4)
    known = sum(
        compare(sketches()[k], sketched(made(tunes()[k], MAKINGS[name], random))).score >= OFFERED
        for k in asked
    )
    # Where notes themselves are changed or half of them is gone, one in a hundred is not; the
    # others are all known (benchmarks/sameness.py, 500 each).
    assert known >= len(asked) - 1


def test_other_tunes_of_a_collection_are_hardly_ever_taken_for_settings() -> None:
    random = np.random.default_rng(5)
    pairs = random.integers(0, len(sketches()), (400, 2))
    alike_ones = [
        (tunes()[a].title, tunes()[b].title)
        for a, b in pairs.tolist()
        if a != b and compare(sketches()[a], sketches()[b]).score >= OFFERED
    ]
    assert len(alike_ones) <= 1


@pytest.mark.parametrize(
    ("one", "title", "other", "other_title"),
    [
        # Titles of the same tune in two printed collections (1780s, 1850 tunes, 1883).
        ("airdsAirs/book4.abc", "Lary Grogan,", "oneills1850/0811-0899.abc", "Larry Grogan"),
        ("airdsAirs/book6.abc", "Pastheen Fuen,",
         "oneills1850/0550-0625.abc", "Pulse of my Heart."),
        ("oneills1850/1031-1115.abc", "The Top of Cork Road",
         "ryansMammoth/TopOfCorkRoadJig.abc", "Top of Cork Road -- Jig"),
    ],
)  # fmt: skip
def test_the_same_tune_in_two_printed_collections_is_known(
    one: str, title: str, other: str, other_title: str
) -> None:
    found = compare(sketched(in_corpus(one, title)), sketched(in_corpus(other, other_title)))
    assert found.score >= OFFERED


def test_a_tune_is_wholly_the_same_as_itself() -> None:
    for sketch in sketches()[::40]:
        found = compare(sketch, sketch)
        assert found.share == pytest.approx(1.0)
        assert (found.semitones, found.doublings, found.ends_alike) == (0, 0, True)
        assert found.covered == (1.0, 1.0)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.integers(-14, 14), st.sampled_from([-2, -1, 0, 1, 2]))
def test_key_and_note_lengths_do_not_change_the_score(
    which: int, semitones: int, doublings: int
) -> None:
    line = sketches()[which % len(sketches())].line
    if len(line.midi) < 16:
        return
    factor = 2.0**doublings
    other = sketch_of(
        type(line)(
            line.midi + np.int16(semitones), line.onset * factor, line.length * factor, line.bar
        )
    )
    itself = compare(sketch_of(line), sketch_of(line))
    found = compare(sketch_of(line), other)
    assert found.score == pytest.approx(itself.score)
    assert (found.semitones, found.doublings) == (semitones, doublings)


def test_either_of_two_may_come_first() -> None:
    random = np.random.default_rng(6)
    for k in made_of(12, 6):
        ours = sketches()[k]
        theirs = sketched(made(tunes()[k], MAKINGS["another key"], random))
        there, back = compare(ours, theirs), compare(theirs, ours)
        assert there.score == pytest.approx(back.score, abs=0.02)
        assert there.semitones == -back.semitones


def test_tunes_without_notes_and_with_few_are_like_nothing() -> None:
    empty, few = sketch_of(line_of([])), sketched(tune("GABd|"))
    for other in (empty, few, sketches()[0]):
        assert compare(empty, other) == NOTHING
        assert compare(few, other).score < OFFERED


def test_a_repeat_written_out_is_the_same_tune() -> None:
    once = tune(REEL)
    out = read(written_out_once(as_written(once)))
    assert len(list(out.voices[0].notes)) == 2 * len(list(once.voices[0].notes))
    found = compare(sketched(once), sketched(out))
    assert found.share == pytest.approx(1.0)
    assert "the same notes" in words(once, out)


def test_the_line_is_the_melody_once_through() -> None:
    line = line_of(strips(tune(REEL)))
    written = [note.pitch.midi for note in tune(REEL).voices[0].notes]
    assert line.midi.tolist() == written
    assert line.end == 32.0
    assert usual_unit(line) == 0.5


def test_slots_tell_how_much_of_each_pitch_class_sounds() -> None:
    # c for a slot, then d and e for half a slot each: the second slot's row is (1, 1) / sqrt 2.
    line = line_of(strips(tune("c2 de|", "X:1\nT:Made\nM:3/8\nL:1/16\nK:C\n")))
    found = heard(line, 0.5)
    assert found.sounding[0, 0] == 1.0
    assert found.sounding[SAMPLES, [2, 4]] == pytest.approx([0.5**0.5] * 2)
    # Half a slot on, half of the first and d.
    assert found.sounding[SAMPLES // 2, [0, 2]] == pytest.approx([0.5**0.5] * 2)


def test_runs_are_intervals_of_six_notes_in_a_row_and_beat_by_beat() -> None:
    line = line_of(strips(tune("cdefga|", "X:1\nT:Made\nM:6/8\nL:1/8\nK:C\n")))
    found = grams(line, 0.5)
    assert INTERVALS == 5
    code = 0
    for interval in (2, 2, 1, 2, 2):  # c d e f g a
        code = code * 12 + interval
    assert found.codes.tolist() == [code]
    assert found.span.tolist() == [2.5]
    assert CODES == 2 * 12**5


def test_runs_down_are_not_runs_up_and_what_hardly_moves_is_no_run() -> None:
    head = "X:1\nT:Made\nM:6/8\nL:1/8\nK:C\n"
    down = grams(line_of(strips(tune("agfedc|", head))), 0.5)
    code = 0
    for interval in (10, 10, 11, 10, 10):  # a tone or a semitone down, modulo the octave
        code = code * 12 + interval
    assert down.codes.tolist() == [code]
    # Beat by beat c c c c c d: one move in five intervals.
    still = "cde cde|cde cde|cde dec|"
    assert all(code < 12**5 for code in grams(line_of(strips(tune(still, head))), 0.5).codes)


@pytest.mark.parametrize(
    ("body", "head", "said"),
    [
        (REEL, HEAD, "the same notes"),
        (REEL, HEAD.replace("K:G", "K:G octave=-1"), "the same notes, an octave lower"),
        (REEL, HEAD.replace("L:1/8", "L:1/16").replace("4/4", "2/4"),
         "the same notes, notes half as long"),
    ],
)  # fmt: skip
def test_words_say_what_differs(body: str, head: str, said: str) -> None:
    if "octave" in head:
        head, body = HEAD, body.translate(str.maketrans("gedcGABEDF", "GEDCWXYZVU"))
        for sign, lower in zip("WXYZVU", ("G,", "A,", "B,", "E,", "D,", "F,"), strict=True):
            body = body.replace(sign, lower)
    assert words(tune(REEL), tune(body, head)) == said


@pytest.mark.parametrize(
    ("semitones", "doublings", "said"),
    [
        (-5, -1, "a variant, a fourth lower, notes half as long"),
        (12, 0, "a variant, an octave higher"),
        (-19, 2, "a variant, an octave and a fifth lower, notes four times as long"),
        (24, -2, "a variant, 2 octaves higher, notes a quarter as long"),
    ],
)
def test_words_name_the_interval_and_the_lengths(semitones: int, doublings: int, said: str) -> None:
    what = Differing(semitones, doublings, 0.7, 1.0, 1.0, False, (BarsAlike(1, 8, 1, 8),))
    assert differing_words(what) == said


def test_words_say_which_bars_stand_elsewhere() -> None:
    what = Differing(0, 0, 0.9, 0.5, 0.5, False, (BarsAlike(1, 8, 9, 16), BarsAlike(12, 12, 3, 3)))
    said = "in a part of both (bars 1 to 8 as bars 9 to 16, bar 12 as bar 3)"
    assert differing_words(what) == f"nearly the same notes {said}"


def test_words_say_which_part_is_the_same() -> None:
    first, second = REEL.split("\n")
    other = "|:dBAF DFAF|GFGB AFED|dBAF DFAF|GFED E2 D2:|"
    assert "all of the second is a part of the first (bars 1 to 4)" in words(
        tune(REEL), tune(first)
    )
    assert "all of the first is a part of the second (bars 5 to 8)" in words(
        tune(second), tune(REEL)
    )
    assert words(tune(REEL), tune(f"{first}\n{other}")).endswith("in a part of both (bars 1 to 4)")
    assert "parts in another order" in words(tune(REEL), tune(f"{second}\n{first}"))


def test_the_lowest_cost_of_laying_one_on_the_other_is_found_by_loops_too() -> None:
    """One stretch at one lag: the best sum of consecutive slots, tried from each to each."""
    ours = sketches()[made_of(1, 8)[0]]
    theirs = sketched(
        made(tunes()[made_of(1, 8)[0]], MAKINGS["some other notes"], np.random.default_rng(8))
    )
    found = compare(ours, theirs)
    stretch = found.stretches[0]
    mine = heard(ours.line, ours.unit)
    yours = heard(theirs.line, ours.unit * 2.0**found.doublings)
    turned = np.roll(yours.sounding, -found.semitones, axis=1)
    by_chance = float(mine.sounding[::SAMPLES].mean(axis=0) @ turned.mean(axis=0))
    even = 0.5 + 0.8 * max(0.0, by_chance - 0.2)
    says = []
    for k in range(len(mine.sounding) // SAMPLES):
        place = SAMPLES * k + stretch.lag
        if not 0 <= place < len(turned):
            says.append(-1e3)
            continue
        weight = 1.0 if mine.moving[SAMPLES * k] or yours.moving[place] else 0.3
        says.append((float(mine.sounding[SAMPLES * k] @ turned[place]) - even) * weight)
    sums = {
        (first, last): sum(says[first:last])
        for first in range(len(says))
        for last in range(first + 1, len(says) + 1)
    }
    best = max(sums, key=lambda each: sums[each])
    assert (stretch.first, stretch.last) == best


def test_candidates_are_the_same_by_either_way_and_hold_the_tune_itself() -> None:
    codes = [own_codes(each.grams) for each in sketches()]
    flat, counts = np.concatenate(codes), np.array([len(each) for each in codes])
    pool = pool_of(flat, counts)
    for k in made_of(20, 9):
        near = nearest(pool, codes[k])
        assert near == nearest_among(flat, counts, codes[k])
        assert near[0] == k or codes[near[0]].tolist() == codes[k].tolist()
        assert len(near) <= MOST


def test_sketches_come_back_from_files_as_they_were(tmp_path: Path) -> None:
    some = sketches()[:9]
    joined([sketches_of(some[:4]), sketches_of(some[4:])]).save(tmp_path)
    back = opened(tmp_path)
    assert len(back) == len(some)
    for k, sketch in enumerate(some):
        assert compare(back[k], sketch).share == pytest.approx(1.0)
        assert back[k].line.midi.tolist() == sketch.line.midi.tolist()
        assert back[k].grams.codes.tolist() == sketch.grams.codes.tolist()


def test_a_whole_tune_is_found_in_a_collection_by_a_setting_of_it() -> None:
    collection = build_collection(tunes()[:150])
    random = np.random.default_rng(10)
    asked = [k for k in made_of(40, 10) if k < 150][:10]
    for name in ("all of these", "one part only"):
        first = 0
        for k in asked:
            found = alike(collection, strips(made(tunes()[k], MAKINGS[name], random)), 5)
            assert found == sorted(found, key=lambda each: -each[1])
            first += k in [tune for tune, _ in found]
        assert first >= len(asked) - 1
    assert alike(collection, [], 5) == []
    assert alike(collection, strips(tunes()[0]), 0) == []


def test_halved_settings_keep_their_bars() -> None:
    """The maker of settings is right itself: lengths by half, metre and bars as before."""
    once = as_written(tune(REEL))
    half: Setting = halved(once, np.random.default_rng(0))
    assert half.meter.name == "4/8"
    assert len(read(half).bars) == len(tune(REEL).bars)
    assert not [p for p in read(half).problems if p.bar is not None]
