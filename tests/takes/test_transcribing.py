"""First notation: what is played evenly comes back exactly, and whatever is heard can be read."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from imagined_hearing import heard_of
from soundfont_takes import Played, notes_of
from sounding_tunes import example

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.sound.timing import plan
from reedwright.tab.arrange import arrange
from reedwright.takes.transcribing.model import NotationWishes, Transcription
from reedwright.takes.transcribing.patterns import coming_again
from reedwright.takes.transcribing.transcribe import UNTITLED, NothingHeard, transcribe
from reedwright.tune.abc import read_abc
from reedwright.tune.abc.metres import read_meter
from reedwright.tune.model import Key, Meter, Tune
from reedwright.tune.unfold import unfold

REEL = """X:1
T:Reel
R:reel
M:C|
L:1/8
K:G
D2|:G2BG DGBd|g2fg edBd|c2ec B2dB|A2BA GEDE|
G2BG DGBd|gage dBGB|cedc BAGF|1 AGFA G2D2:|2 AGFA G2Bc|]
|:d2gd Bdgb|agfa gedB|e2ec BcdB|AGAB A2Bc|
dBgB dgbg|agfd edBG|cBAG FAdc|1 BGAF G2Bc:|2 BGAF G4|]
"""
JIG = """X:1
T:Jig
R:jig
M:6/8
L:1/8
K:D
A|:d2A FAd|fed e2c|dcB AFD|E3 EFG|F2A d2f|gfe fdB|A2F GEC|D3 D2A:|
|:fdf a2f|gfe fdB|ABd efd|{g}e2f ecA|fdf a2f|gfe fdB|AFA BdF|E2D D3:|
"""


def played(text: str, tempo: float | None = None) -> list[Played]:
    """A tune as the synthesiser would time it, on a harp that has its notes."""
    (tune,) = read_abc(text)
    assert isinstance(tune, Tune)
    arrangement = arrange(tune, make_harp(tune.key.tonic), load_profile("all-techniques"))
    return notes_of(plan(arrangement, tempo=tempo, count_in=False))


def sounds(tune: Tune) -> list[tuple[int, Fraction]]:
    """Pitches and onsets as played, ties joined, from the first note on."""
    found = [(n.note.pitch.midi, n.onset) for n in unfold(tune).notes if not n.continues]
    first = found[0][1] if found else Fraction(0)
    return [(midi, onset - first) for midi, onset in found]


def read_again(result: Transcription) -> Tune:
    (tune,) = read_abc(result.abc)
    assert isinstance(tune, Tune)
    return tune


@pytest.mark.parametrize(("text", "name"), [(REEL, "reel"), (JIG, "jig")])
def test_a_dance_tune_comes_back_with_its_metre_key_repeats_and_notes(text: str, name: str) -> None:
    (tune,) = read_abc(text)
    assert isinstance(tune, Tune)
    result = transcribe(heard_of(played(text)), NotationWishes())
    assert result.tune.meter.bar_length == tune.meter.bar_length
    assert result.tune.type == name
    assert result.tune.key.name == tune.key.name
    assert sounds(result.tune) == sounds(tune)
    assert sum(bar.repeat_close == 2 for bar in result.tune.bars) == 2
    assert result.tune.title == UNTITLED


def test_variant_endings_are_written_where_only_the_last_bars_differ() -> None:
    text = JIG.replace("D3 D2A:|", "[1 D3 E3:|[2 DFA d3:|").replace("|[2 DFA d3:|", "|[2 DFA d3|")
    (tune,) = read_abc(text)
    assert isinstance(tune, Tune)
    result = transcribe(heard_of(played(text)), NotationWishes())
    assert [bar.ending for bar in result.tune.bars if bar.ending] == [(1,), (2,)]
    assert sounds(result.tune) == sounds(tune)


def test_an_anacrusis_stands_before_the_first_bar_line() -> None:
    result = transcribe(heard_of(played(JIG)), NotationWishes())
    assert result.tune.bars[0].number == 0
    assert result.tune.bars[0].length == Fraction(1, 2)


def test_a_cut_becomes_a_grace_note() -> None:
    graced = [n for n in transcribe(heard_of(played(JIG))).tune.voices[0].notes if n.graces]
    assert [(n.pitch.name, n.graces[0].pitch.name) for n in graced] == [("E5", "G5")]


def test_a_tune_heard_three_times_round_is_written_once() -> None:
    once = played(REEL)
    length = 128 * 60 / 192  # seconds: 32 bars of four crotchets at the reel's usual tempo
    again = [
        n._replace(start=n.start + k * length, end=n.end + k * length)
        for k in range(3)
        for n in once
    ]
    result = transcribe(heard_of(again), NotationWishes())
    assert result.rounds == 3
    assert sounds(result.tune) == sounds(read_abc(REEL)[0])  # type: ignore[arg-type]
    assert max(bar.passes for bar in result.bars) == 6


@pytest.mark.parametrize("swing", [1.0, 1.4, 1.8])
def test_a_lilt_is_measured_and_taken_out(swing: float) -> None:
    quaver = 60 / 150 / 2
    midis = [62, 67, 69, 71, 74, 71, 69, 67, 66, 69, 74, 69, 78, 76, 74, 73] * 8
    notes = [
        Played(k // 2 * 2 * quaver + late, k // 2 * 2 * quaver + late + 0.15, float(m))
        for k, m in enumerate(midis)
        for late in [2 * quaver * swing / (1 + swing) * (k % 2)]
    ]
    result = transcribe(heard_of(notes), NotationWishes(meter=Meter((4,), 4, "C")))
    assert result.swing == pytest.approx(swing, rel=0.06)
    assert {n.length for n in result.tune.bars[1].notes} == {Fraction(1, 2)}


def test_dotted_notes_of_three_to_one_are_written_dotted() -> None:
    beat = 0.4
    midis = [62, 67, 69, 71, 74, 71, 69, 67] * 8
    notes = [
        Played(start, start + 0.09, float(m))
        for k, m in enumerate(midis)
        for start in [beat * (k // 2 + 0.75 * (k % 2))]
    ]
    result = transcribe(heard_of(notes), NotationWishes(meter=Meter((4,), 4)))
    assert {n.length for n in result.tune.bars[1].notes} == {Fraction(3, 4), Fraction(1, 4)}


def test_the_takes_own_pitch_is_taken_out() -> None:
    result = transcribe(heard_of(played(JIG), cents=-45), NotationWishes())
    assert sounds(result.tune) == sounds(read_abc(JIG)[0])  # type: ignore[arg-type]
    assert any("45 cents below" in remark for remark in result.remarks)


def test_noises_before_and_after_are_left_out() -> None:
    notes = [n._replace(start=n.start + 8, end=n.end + 8) for n in played(JIG)]
    last = max(n.end for n in notes)
    noise = [Played(1.0, 1.2, 50.0), Played(1.5, 1.9, 55.0), Played(last + 5, last + 5.4, 49.0)]
    result = transcribe(heard_of(sorted(notes + noise)), NotationWishes())
    assert sounds(result.tune) == sounds(read_abc(JIG)[0])  # type: ignore[arg-type]


def test_breaths_are_no_rests_and_a_bar_of_silence_is_one() -> None:
    crotchet = 0.5
    midis = [67, 69, 71, 72, 74, 72, 71, 69] * 4
    notes = [Played(k * crotchet, k * crotchet + 0.2, float(m)) for k, m in enumerate(midis)]
    late = [n._replace(start=n.start + 4 * crotchet, end=n.end + 4 * crotchet) for n in notes[16:]]
    wishes = NotationWishes(meter=Meter((4,), 4), quarters_per_minute=120)
    result = transcribe(heard_of(notes[:16] + late), wishes)
    rests = [e for bar in result.tune.bars for e in bar.events if not hasattr(e, "pitches")]
    assert sum((r.length for r in rests), Fraction(0)) >= 4  # type: ignore[union-attr]
    assert sum((r.length for r in rests), Fraction(0)) <= 5  # type: ignore[union-attr]


def test_what_is_wished_is_written() -> None:
    wishes = NotationWishes(
        title="Two  Loaves", type="slide", meter=Meter((12,), 8), key=Key("A", 0, "mixolydian")
    )
    result = transcribe(heard_of(played(JIG)), wishes)
    tune = read_again(result)
    assert (tune.title, tune.type, tune.meter.name) == ("Two Loaves", "slide", "12/8")
    assert (tune.key.tonic, tune.key.mode) == ("A", "mixolydian")


@pytest.mark.parametrize("meter", [Meter((5,), 4), Meter(())])
def test_odd_metres_can_be_wished(meter: Meter) -> None:
    result = transcribe(heard_of(played(REEL)), NotationWishes(meter=meter))
    assert read_again(result).meter.name == meter.name
    assert not read_again(result).problems


def test_a_bar_where_the_passes_differ_is_less_sure_than_others() -> None:
    notes = played(JIG)
    a_third_in = next(k for k, n in enumerate(notes) if n.start > 9 * 60 / 112 * 2)
    for k in range(a_third_in, a_third_in + 3):
        notes[k] = notes[k]._replace(midi=notes[k].midi + 4)
    bars = transcribe(heard_of(notes), NotationWishes()).bars
    sure = sorted(bar.sureness for bar in bars)
    assert sure[0] < 0.85 < sure[len(sure) // 2]


def test_the_sureness_of_bars_stands_in_comments() -> None:
    result = transcribe(heard_of(played(JIG)), NotationWishes())
    assert "% How sure each bar is, in per cent: 0:" in result.abc
    assert len(result.bars) == len(result.tune.bars)


def test_nothing_heard_is_told_and_not_written() -> None:
    with pytest.raises(NothingHeard, match="No notes were heard"):
        transcribe(heard_of([]), NotationWishes(title="Nothing", meter=Meter((6,), 8)))


def test_nothing_but_noise_that_is_no_note_is_nothing_heard() -> None:
    heard = heard_of([Played(0.5, 0.6, 60.0)])
    faint = replace(heard, notes=tuple(replace(n, surety=0.01) for n in heard.notes))
    with pytest.raises(NothingHeard):
        transcribe(faint)


def odd(name: str) -> list[Played]:
    random = np.random.default_rng(5)
    if name == "one note":
        return [Played(1.0, 1.4, 67.0)]
    if name == "two notes":
        return [Played(1.0, 1.4, 67.0), Played(1.5, 2.0, 69.0)]
    if name == "all the same pitch":
        return [Played(0.25 * k, 0.25 * k + 0.2, 67.0) for k in range(200)]
    if name == "all at once":
        return [Played(1.0, 1.4, 60.0 + k) for k in range(20)]
    starts = np.cumsum(random.uniform(0.03, 0.9, 300))
    return [Played(float(s), float(s) + 0.1, float(random.integers(50, 90))) for s in starts]


@pytest.mark.parametrize(
    "name", ["one note", "two notes", "all the same pitch", "all at once", "noise"]
)
def test_odd_takes_are_written_all_the_same(name: str) -> None:
    result = transcribe(heard_of(odd(name)), NotationWishes())
    assert not read_again(result).problems
    assert result.tune.voices[0].bars


@pytest.mark.parametrize("meter", [Meter((6,), 8), Meter((9,), 8), Meter((3,), 4)])
def test_a_wished_metre_holds_however_little_is_heard(meter: Meter) -> None:
    for name in ("one note", "two notes", "noise"):
        result = transcribe(heard_of(odd(name)), NotationWishes(meter=meter))
        assert read_again(result).meter == meter


def test_a_take_of_many_rounds_is_written_once() -> None:
    notes = played(REEL)
    length = 128 * 60 / 192
    many = [n._replace(start=n.start + k * length, end=n.end + k * length)
            for k in range(1500 // len(notes) + 1) for n in notes]  # fmt: skip
    heard = heard_of(many)
    result = transcribe(heard, NotationWishes())
    assert result.rounds >= 5
    assert sounds(result.tune) == sounds(read_abc(REEL)[0])  # type: ignore[arg-type]


METERS = {
    "C|": (Meter((2,), 2, "C|"), 192.0, 8),
    "2/4": (Meter((2,), 4), 115.0, 4),
    "3/4": (Meter((3,), 4), 130.0, 6),
    "6/8": (Meter((6,), 8), 165.0, 6),
    "9/8": (Meter((9,), 8), 165.0, 9),
}


@settings(max_examples=4, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    name=st.sampled_from(sorted(METERS)),
    seed=st.integers(0, 10_000),
    lilt=st.sampled_from([0.0, 0.004, 0.008]),
)
def test_a_random_tune_in_a_known_metre_comes_back_exactly(
    name: str, seed: int, lilt: float
) -> None:
    """Two parts of eight bars, each twice, in quavers and longer notes, a little unsteady."""
    meter, tempo, quavers = METERS[name]
    random = np.random.default_rng(seed)
    line: list[tuple[int, int]] = []  # (MIDI note, quavers)
    for _part in range(2):
        bars: list[tuple[int, int]] = []
        for bar in range(8):
            left = quavers
            while left:
                longest = quavers if bar == 7 and left == quavers else 1
                step = min(left, int(random.choice([1, 1, 1, 2])), max(longest, 2))
                place = quavers - left
                if place % (3 if meter.compound else 2):  # long notes on beats only
                    step = 1
                bars.append((int(random.choice([62, 64, 66, 67, 69, 71, 73, 74])), step))
                left -= step
        line += bars + bars
    now, notes, true = 0, [], []
    quaver = 60 / tempo / 2
    for midi, step in line:
        start = now * quaver
        notes.append(Played(start, start + step * quaver * 0.9, float(midi)))
        true.append((midi, Fraction(now, 2)))
        now += step
    wishes = NotationWishes(meter=meter, quarters_per_minute=tempo)
    result = transcribe(heard_of(notes, seed=seed, jitter=lilt), wishes)
    again = read_again(result)
    assert not again.problems
    assert sounds(again) == sounds(result.tune) == true


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(
        st.tuples(st.floats(0.02, 1.5), st.floats(0.05, 1.0), st.integers(48, 96), st.booleans()),
        max_size=60,
    ),
    st.sampled_from([None, Meter((6,), 8), Meter((3,), 4), Meter((4,), 4, "C")]),
)
def test_whatever_is_heard_reads_back_without_a_problem(
    steps: list[tuple[float, float, int, bool]], meter: Meter | None
) -> None:
    now, notes = 0.1, []
    for step, share, midi, same in steps:
        pitch = notes[-1].midi if notes and same else float(midi)
        notes.append(Played(now, now + step * share, pitch))
        now += step
    if not notes:
        with pytest.raises(NothingHeard):
            transcribe(heard_of(notes), NotationWishes(meter=meter))
        return
    result = transcribe(heard_of(notes), NotationWishes(meter=meter))
    again = read_again(result)
    assert not again.problems, result.abc
    assert sounds(again) == sounds(result.tune)


@pytest.mark.parametrize("written", ["C|", "2/2", "C", "4/4", "6/4", "12/8", "3/16"])
def test_a_wished_metre_is_written_as_it_was_wished(written: str) -> None:
    heard = heard_of(notes_of(plan(example(0), count_in=False)))
    meter = read_meter(written)
    assert transcribe(heard, NotationWishes(meter=meter)).tune.meter == meter


def test_notes_come_again_after_the_length_of_what_is_repeated() -> None:
    """Counted by hand: of 16 notes 12 have one four notes later, 8 one eight notes later; twelve
    more stand for doubt."""
    ticks = np.arange(16) * 6
    fours = coming_again(ticks, np.array([60, 62, 64, 65] * 4))
    assert (fours[24], fours[48]) == (12 / 24, 8 / 20)
    eights = coming_again(ticks, np.array([60, 62, 64, 65, 67, 69, 71, 72] * 2))
    assert (eights[24], eights[48]) == (0, 8 / 20)
