"""Loops: rounds exactly as long as their bars, in steady time, after one bar of count-in."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from pathlib import Path

import pytest

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.sound.excerpt import NoSuchBars, excerpt, loop_timeline, round_length
from reedwright.sound.timing import plan
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes
from reedwright.tune.unfold import unfold

TUNES = Path(__file__).parents[2] / "examples" / "tunes.abc"


def arranged(text: str, key: str = "G") -> Arrangement:
    (tune,) = read_abc(text)
    assert isinstance(tune, Tune)
    return arrange(tune, make_harp(key), load_profile("player"))


def demo(number: int) -> Arrangement:
    tunes = [tune for tune in read_tunes(TUNES) if isinstance(tune, Tune)]
    return arrange(tunes[number], make_harp("G"), load_profile("player"))


@pytest.mark.parametrize("number", range(7))
@pytest.mark.parametrize("speed", [0.5, 0.65, 1.0])
def test_every_round_repeats_the_first_to_the_microsecond(number: int, speed: float) -> None:
    arrangement = demo(number)
    rounds = 4
    loop = excerpt(arrangement, 2, 3, rounds)
    timeline = loop_timeline(arrangement, 2, 3, rounds, speed=speed)
    quarter = 60.0 / arrangement.quarters_per_minute / speed
    length = float(round_length(loop)) * quarter
    starts = [note.span.start for note in timeline.notes]
    assert len(starts) % rounds == 0
    each = len(starts) // rounds
    for k, start in enumerate(starts):
        assert start == pytest.approx(starts[k % each] + (k // each) * length, abs=1e-6)
    # All rounds have the same notes.
    ids = [note.id for note in timeline.notes]
    assert ids == ids[:each] * rounds


def test_count_in_is_one_bar_and_its_clicks_lead_into_the_first_note() -> None:
    arrangement = demo(0)  # a reel in cut time: two clicks
    timeline = loop_timeline(arrangement, 3, 4, 3, speed=0.5)
    bar = 4 * 60.0 / arrangement.quarters_per_minute / 0.5
    assert [click.strong for click in timeline.clicks] == [True, False]
    assert timeline.clicks[0].time == pytest.approx(timeline.tune_start - bar)
    assert timeline.clicks[1].time == pytest.approx(timeline.tune_start - bar / 2)
    assert timeline.notes[0].span.start == pytest.approx(timeline.tune_start, abs=1e-6)


def test_a_round_sounds_as_the_same_bars_do_in_the_whole_tune() -> None:
    arrangement = demo(3)  # a hornpipe with its lilt
    whole = plan(arrangement, count_in=False)
    loop = loop_timeline(arrangement, 4, 5, 1)
    bars = arrangement.tune.bars[4:6]
    ids = [note.id for bar in bars for note in bar.notes]
    first = whole.spans[ids[0]][0].start
    for id_ in ids:
        there, here = whole.spans[id_][0], loop.spans[id_][0]
        assert here.start - loop.tune_start == pytest.approx(there.start - first, abs=1e-9)
        assert here.end - here.start == pytest.approx(there.end - there.start, abs=1e-9)


def test_ties_slurs_and_holds_do_not_reach_over_into_the_next_round() -> None:
    arrangement = arranged(
        "X:1\nT:Tied\nM:4/4\nL:1/4\nQ:1/4=120\nK:G\nGABc|(d2 e2|HG2 G2-|G2) A2|]\n"
    )
    timeline = loop_timeline(arrangement, 1, 2, 3)
    assert Counter(note.id for note in timeline.notes) == dict.fromkeys(
        [note.id for bar in arrangement.tune.bars[1:3] for note in bar.notes], 3
    )
    starts = [note.span.start - timeline.tune_start for note in timeline.notes]
    assert starts == pytest.approx([4 * r + s for r in range(3) for s in (0, 1, 2, 3)])
    # The bar before the loop's end is slurred to the next, the last note to nothing.
    loop = excerpt(arrangement, 1, 2, 3)
    depth = sum(note.slurs_open - note.slurs_close for bar in loop.tune.bars for note in bar.notes)
    assert depth <= 0
    assert not any(note.ties[0] for note in loop.tune.bars[-1].notes[-1:])


def test_repeats_and_endings_of_the_tune_do_not_play_in_a_loop_of_their_bars() -> None:
    arrangement = arranged(
        "X:1\nT:Ends\nM:2/4\nL:1/4\nK:G\n|:GA|Bc|1 dB:|2 dG||\nP:B\n|:cB|!segno!A2:|\n"
    )
    for first, last in ((0, 2), (1, 1), (2, 2), (3, 4)):
        loop = excerpt(arrangement, first, last, 4)
        played = [each.bar.number for each in unfold(loop.tune).bars]
        written = [bar.number for bar in arrangement.tune.bars[first : last + 1]]
        assert played == written * 4


def test_tempo_changes_count_where_the_bars_stand_and_begin_anew_each_round() -> None:
    arrangement = arranged(
        "X:1\nT:Faster\nM:2/4\nL:1/4\nQ:1/4=60\nK:G\nGA|[Q:1/4=120]Bc|dB|[Q:1/4=240]cB|AG|]\n"
    )
    later = loop_timeline(arrangement, 2, 2, 2)
    starts = [note.span.start - later.tune_start for note in later.notes]
    assert starts == pytest.approx([0, 0.5, 1.0, 1.5])  # 120 a minute
    doubled = loop_timeline(arrangement, 2, 2, 2, tempo=120.0)  # the whole twice as fast
    starts = [note.span.start - doubled.tune_start for note in doubled.notes]
    assert starts == pytest.approx([0, 0.25, 0.5, 0.75])
    across = loop_timeline(arrangement, 2, 3, 2)
    starts = [note.span.start - across.tune_start for note in across.notes]
    assert starts == pytest.approx([0, 0.5, 1.0, 1.25, 1.5, 2.0, 2.5, 2.75])


def test_half_bars_and_upbeats_make_rounds_of_their_own_length() -> None:
    arrangement = arranged("X:1\nT:Half\nM:4/4\nL:1/4\nK:G\nD|GABc|d2 B:|A|BcdB|G3|]\n")
    loop = excerpt(arrangement, 2, 3, 2)
    assert round_length(loop) == Fraction(4)
    assert unfold(loop.tune).length == Fraction(8)


def test_bars_that_are_not_there_are_refused() -> None:
    arrangement = demo(0)
    for first, last, rounds in ((5, 4, 2), (-1, 2, 2), (0, 99, 2), (0, 1, 0)):
        with pytest.raises(NoSuchBars):
            excerpt(arrangement, first, last, rounds)
