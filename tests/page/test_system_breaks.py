"""Where systems break: the cheapest way of all, even lines, phrases, endings kept together."""

from __future__ import annotations

import itertools
import random
from importlib.util import find_spec
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reedwright.harp.making import make_harp
from reedwright.page.breaking import BarWidth, Breaking, break_systems, breakings
from reedwright.page.engraving import SMALLEST_TAB, Engraver, Look, Plan
from reedwright.page.fitting import STAVES, TAB_SHARE, fitted
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tab.notation import tab_rows
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes

EXAMPLES = Path(__file__).parents[2] / "examples" / "tunes.abc"
ROOM = 150.0  # mm that a page of ours leaves for music, about


def best(bars: list[BarWidth], width: float, lead: float) -> Breaking:
    return min(breakings(bars, width, lead), key=lambda way: way.cost)


def test_systems_end_with_phrases_where_they_can() -> None:
    bars = [BarWidth(40, part_end=i in (7, 15)) for i in range(16)]
    assert best(bars, 180, 10).starts == (4, 8, 12)


def test_second_ending_stays_beside_the_first() -> None:
    widths = [38.0] * 8 + [20.0] + [38.0] * 8
    bars = [
        BarWidth(w, part_end=i == 8, counted=i != 8, sticky=i == 7) for i, w in enumerate(widths)
    ]
    assert best(bars, 195, 10).starts == (4, 9, 13)


def test_endings_of_two_bars_are_kept_whole() -> None:
    bars = [
        BarWidth(30, part_end=i in (9, 15), sticky=i in (6, 7, 8), counted=i not in (8, 9))
        for i in range(16)
    ]
    assert not {7, 8, 9} & set(best(bars, 230, 10).starts)


def test_halves_of_a_bar_are_not_parted() -> None:
    bars = [BarWidth(45, False, bound=i == 3) for i in range(8)]
    assert all(4 not in way.starts for way in breakings(bars, 195, 10))


def test_crowded_bars_make_no_crowded_line_beside_loose_ones() -> None:
    """Bars of quavers and of semiquavers: four of the one, but only three of the other."""
    bars = [BarWidth(w, part_end=i == 7) for i, w in enumerate([30.0] * 8 + [55.0] * 8)]
    way = best(bars, 190, 10)
    assert way.spread < 1.35
    assert 8 in way.starts


def test_few_systems_are_all_that_are_made_where_few_are_asked_for() -> None:
    bars = [BarWidth(40, part_end=False) for _ in range(24)]
    ways = breakings(bars, 180, 10, most=7)
    assert ways
    assert max(len(way.starts) + 1 for way in ways) <= 7


@given(
    st.lists(st.floats(5, 60), min_size=1, max_size=9),
    st.floats(70, 200),
    st.floats(0.4, 0.98),
)
def test_breaks_are_the_cheapest_of_all(widths: list[float], width: float, target: float) -> None:
    """Against every way to break, by brute force, with the costs written out once more."""
    bars = [BarWidth(w, part_end=i % 3 == 2) for i, w in enumerate(widths)]
    _, cost = break_systems(bars, width, 8.0, target)
    count, room = len(bars), width - 8.0
    ways = itertools.chain.from_iterable(
        itertools.combinations(range(1, count), breaks) for breaks in range(count)
    )
    costs = []
    for way in ways:
        total = 0.0
        for start, end in itertools.pairwise([0, *way, count]):
            density = sum(widths[start:end]) / room
            if density > 0.98 and end - start > 1:
                break  # a system of several bars may not be overfull
            off = abs(density / target - 1)
            total += 24 * max(0.0, off - 0.06) ** 2 + 8 * max(0.0, off - 0.18)
            total += 1000 * max(0.0, density - 1)
            total += 0.4 if end - start == 1 and count > 1 else 0.0
            total += 0.1 * sum(i % 3 == 2 for i in range(start, end - 1))
            if end < count:
                total += (0.16, 0.06, 0.0)[(end + 2) % 3 if end % 3 else 2]
        else:
            costs.append(total)
    assert cost == pytest.approx(min(costs))


def plan_of(tune: Tune, harp: str, tuning: str = "richter-raised-3-blow", octaves: int = 0) -> Plan:
    """The plan that a page would take, from what is engraved."""
    made = arrange(tune, make_harp(harp, tuning), load_profile("all-techniques"), octaves=octaves)
    engraver = Engraver(made.tune, tab_rows(made, "arrows"), 0, 178.0)
    setting = next(fitted(engraver, ROOM, STAVES))
    starts = tuple(system.bars[0] for system in setting.systems[1:])
    plans = (plan for staff in STAVES for plan in engraver.plans(look_of(staff)))
    return next(p for p in plans if p.look.staff == setting.staff and p.starts == starts)


def look_of(staff: float) -> Look:
    return Look(staff, max(SMALLEST_TAB, round(staff * TAB_SHARE, 3)))


def examples() -> list[Tune]:
    return [tune for tune in read_tunes(EXAMPLES) if isinstance(tune, Tune)]


@pytest.mark.parametrize("index", range(7))
def test_lines_of_the_examples_are_even(index: int) -> None:
    """No line is much denser than another: 1.9 to 1 before breaks were chosen for all."""
    key, octaves = ("GDDDGGG"[index], 1 if index in (1, 2, 3) else 0)
    plan = plan_of(examples()[index], key, octaves=octaves)
    assert plan.systems > 2
    assert plan.breaking.spread <= 1.4
    assert max(plan.breaking.densities) <= 0.98


def collection_sample(count: int) -> list[Tune]:
    """Of the 1850 collection that the music21 library ships; no music21 code runs."""
    spec = find_spec("music21")
    assert spec is not None and spec.origin is not None
    files = sorted((Path(spec.origin).parent / "corpus" / "oneills1850").glob("*.abc"))
    tunes = [
        tune
        for file in random.Random(1850).sample(files, count)
        for tune in itertools.islice(read_tunes(file), 1)
    ]
    return [tune for tune in tunes if isinstance(tune, Tune)]


@pytest.mark.no_cover
def test_lines_of_collected_tunes_are_even() -> None:
    tunes = collection_sample(20)
    assert len(tunes) >= 18
    plans = [plan_of(tune, "D", octaves=1) for tune in tunes]
    spreads = sorted(plan.breaking.spread for plan in plans if plan.systems > 1)
    assert spreads[len(spreads) // 2] <= 1.3
    assert sum(spread > 1.4 for spread in spreads) <= 2
    assert spreads[-1] <= 1.7  # a tune of bars of very unequal length
