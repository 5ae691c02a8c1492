"""The harps for a list, told with each tune on its harp, and what one harp less costs."""

from __future__ import annotations

import json
from itertools import combinations
from pathlib import Path

import pytest
from sets_tunes import table_of, tunes_of

from reedwright.harp.making import parse_harp, parse_harps
from reedwright.player.loading import load_profile
from reedwright.tab.ranking import rank_harps
from reedwright.tab.sets.efforts import efforts
from reedwright.tab.sets.fewest import fewest_harps, frontier
from reedwright.tab.sets.report import frontier_report, harps_report
from reedwright.tab.sets.text import frontier_text, harps_text
from reedwright.tab.sets.wishes import HarpWishes, Limit, SetsError
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

BOOK = Path(__file__).parents[2] / "examples" / "tunes.abc"
TUNES = tunes_of(("reel", "D"), ("jig", "G"), ("waltz", "A"), ("polka", "C"))
HARPS = ["C", "D", "G", "A:richter-raised-3-blow"]
TABLE = table_of(
    TUNES,
    HARPS,
    [
        [0.9, 0.35, None, 0.9],
        [0.8, None, 0.3, 0.9],
        [None, 0.8, None, 0.2],
        [1.0, None, None, None],
    ],
)


def names(choice: object) -> list[str]:
    return [harp.name for harp in choice.harps]


def test_the_fewest_harps_for_the_shipped_tunes_equal_every_choice_tried_out() -> None:
    found = read_abc(BOOK.read_text(encoding="utf-8"))
    tunes = [tune for tune in found if isinstance(tune, Tune)]
    harps = parse_harps("C, D, G, A, F, Bb, G:richter-raised-3-blow, D:richter-raised-3-blow")
    profile = load_profile("player")
    choice = fewest_harps(efforts(tunes, profile, harps), Limit(no_bends=True))
    # Straight from the ranking: of each tune and harp the first entry without bends.
    cost: dict[tuple[int, int], int] = {}
    for row, tune in enumerate(tunes):
        for each in rank_harps(tune, profile, harps):
            if each.complete and not each.bends and not each.overblows:
                cost.setdefault((row, harps.index(each.harp)), round(1000 * each.effort_per_note))
    playable = {row for row, _ in cost}
    assert {each.place for each in choice.left_out} == set(range(len(tunes))) - playable
    best = None
    for size in range(len(harps) + 1):
        for chosen in combinations(range(len(harps)), size):
            least = [
                min((cost[row, h] for h in chosen if (row, h) in cost), default=None)
                for row in sorted(playable)
            ]
            if None not in least:
                key = (size, sum(least))
                best = key if best is None else min(best, key)
        if best is not None:
            break
    assert best == (len(choice.harps), round(1000 * choice.effort))
    assert choice.proven


def test_two_harps_play_three_of_the_tunes_and_the_fourth_needs_a_third() -> None:
    choice = fewest_harps(TABLE)
    assert names(choice) == ["C harp", "A harp, raised 3 blow"]
    assert choice.effort == pytest.approx(0.9 + 0.8 + 0.2 + 1.0)
    assert [each.harp.key for each in choice.tunes] == ["C", "C", "A", "C"]
    assert choice.worst is not None and choice.worst.tune.title == "D"
    assert [each.tune.title for each in choice.of(parse_harp("C"))] == ["A", "B", "D"]


def test_owned_harps_go_before_bought_ones_as_far_as_they_are_wished_to() -> None:
    owned = parse_harps("C, D, G")
    assert names(fewest_harps(TABLE, wishes=HarpWishes(owned=owned))) == [
        "C harp",
        "A harp, raised 3 blow",
    ]
    free = fewest_harps(TABLE, wishes=HarpWishes(owned=owned, owned_counts=0))
    assert names(free) == ["C harp", "D harp", "G harp"]
    assert free.counts == 0


def test_harps_that_must_be_taken_are_and_those_ruled_out_are_not() -> None:
    g, c = parse_harps("G, C")
    assert "G harp" in names(fewest_harps(TABLE, wishes=HarpWishes(must=(g,))))
    without = fewest_harps(TABLE, wishes=HarpWishes(never=(c,)))
    assert "C harp" not in names(without)
    (out,) = without.left_out
    assert out.tune.title == "D"
    assert "of harps not wished for, C harp would do" in out.why
    plain = fewest_harps(TABLE, wishes=HarpWishes(odd=False))
    assert names(plain) == ["C harp", "D harp"]
    assert names(fewest_harps(TABLE, wishes=HarpWishes(most_odd=0))) == ["C harp", "D harp"]


def test_within_too_few_harps_as_many_tunes_as_can_be_are_played() -> None:
    choice = fewest_harps(TABLE, wishes=HarpWishes(most=1))
    # Three tunes either way; on the A harp they are easier.
    assert names(choice) == ["A harp, raised 3 blow"]
    (out,) = choice.left_out
    assert out.tune.title == "D" and out.why == "it needs another harp, such as C harp"


def test_reasons_name_the_harp_that_comes_nearest() -> None:
    table = table_of(TUNES[:2], ["C", "D"], [[0.9, 0.4], [None, None]], [[2, 3], [0, 0]])
    out = fewest_harps(table, Limit(no_bends=True)).left_out
    assert out[0].why == "easiest on the D harp: 0.40 effort a note and 3 bends"
    assert out[1].why == "no harp has all its notes; 1 note missing on the C harp"


def test_above_the_best_counts_from_the_best_harp_that_may_be_taken() -> None:
    table = table_of(TUNES[:1], ["C", "D:slide-solo-12"], [[0.9, 0.2]])
    choice = fewest_harps(table, Limit(above_best=0.1))
    assert names(choice) == ["C harp"] and not choice.left_out


def test_each_step_of_the_frontier_is_the_best_of_so_many_harps() -> None:
    steps = frontier(TABLE)
    assert [step.most for step in steps] == [1, 2, 3, 4]
    for step in steps:
        best = min(
            (
                sum(all(c >= 9000 for c in row) for row in rows),
                sum(min(row) for row in rows if min(row) < 9000),
            )
            for chosen in combinations(range(4), min(step.most, 4))
            for rows in [
                [
                    [
                        9000 if TABLE.missing[t, h, 0] else round(1000 * TABLE.per_note[t, h, 0])
                        for h in chosen
                    ]
                    for t in range(4)
                ]
            ]
        )
        found = len(step.choice.left_out), round(1000 * step.choice.effort)
        assert found == best
    assert steps[1].gained == (TUNES[3],)
    assert "1 tune more can be played" in steps[1].words
    # A D harp too saves 0.55 on tune A, a G harp 0.5 on tune B; no other is easier on them.
    assert steps[2].saved == pytest.approx(0.55 / 4)
    assert [tune.title for tune in steps[2].most_on] == ["A"]
    assert steps[2].words == "3 harps: saves 0.14 effort a note, most on A."


def test_the_frontier_ends_where_another_harp_brings_nothing() -> None:
    table = table_of(TUNES[:2], ["C", "D"], [[0.3, 0.4], [0.3, 0.4]])
    assert [step.most for step in frontier(table)] == [1]
    assert len(frontier(TABLE, most=2)) == 2
    assert len(frontier(TABLE, wishes=HarpWishes(most=3))) == 3


def test_a_harp_that_must_be_taken_has_to_be_in_the_table() -> None:
    with pytest.raises(SetsError, match="name it among the harps"):
        fewest_harps(TABLE, wishes=HarpWishes(must=parse_harps("F")))
    odd = parse_harp("A:richter-raised-3-blow")
    with pytest.raises(SetsError, match="odd tunings"):
        fewest_harps(TABLE, wishes=HarpWishes(must=(odd,), most_odd=0))


def test_the_text_and_the_data_tell_harps_tunes_and_proof() -> None:
    choice = fewest_harps(TABLE, wishes=HarpWishes(most=1))
    text = harps_text(choice)
    assert text.startswith("1 harp for 3 tunes, 0.67 effort a note on average:")
    assert "No other choice of these harps is better." in text and "Not played (1 tune):" in text
    data = json.loads(json.dumps(harps_report(choice)))
    assert data["proven"] and [each["harp"] for each in data["tunes"]] == [0, 0, 0]
    steps = frontier(TABLE)
    assert frontier_text(steps).splitlines()[1].split()[:3] == ["1", "3", "0.67"]
    assert len(json.loads(json.dumps(frontier_report(steps)))) == 4
    nothing = fewest_harps(table_of(TUNES[:1], ["C"], [[None]]))
    assert harps_text(nothing).startswith("No harp is taken")
