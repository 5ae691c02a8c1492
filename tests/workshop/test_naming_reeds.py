"""Which reed is which, on tones that are known: by pitch, by order, by both.

What was played is the outside truth: rows are made in `played_reeds`, which knows nothing of
the model. The orders' Hz are ISO 16's equal temperament through `reed_targets`.
"""

from __future__ import annotations

from functools import reduce
from operator import add

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from played_reeds import (
    FAMILIES,
    count,
    plain_tone,
    row_as_played,
    row_shuffled,
    tones_of,
)

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Reed
from reedwright.workshop.measuring.model import Tone
from reedwright.workshop.measuring.naming import name_reeds
from reedwright.workshop.measuring.orders import OrderError, asked_orders, usual_orders
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.targets.model import TargetWishes

B, D = Breath.BLOW, Breath.DRAW
G = reed_targets(make_harp("G"))
HOLES = range(1, 11)
HOLE_BY_HOLE = [Reed(hole, breath) for hole in HOLES for breath in (B, D)]
TWO_DRAW, THREE_BLOW = Reed(2, D), Reed(3, B)  # unisons on Richter


def at(reed: Reed, cents: float = 0.0, targets=G) -> float:
    return targets.of(reed).bench_hz * 2 ** (cents / 1200)


def played(reeds, cents=None, targets=G) -> tuple[Tone, ...]:
    cents = cents or [0.0] * len(reeds)
    return tuple(
        plain_tone(at(reed, off, targets), 1.5 * k)
        for k, (reed, off) in enumerate(zip(reeds, cents, strict=True))
    )


def names(measurement) -> list[Reed | None]:
    return [each.reed for each in measurement.tones]


@pytest.mark.parametrize("family", FAMILIES)
def test_orders_as_people_play_them_name_99_reeds_of_100(family: str) -> None:
    rows = [row_as_played(70_000 + k, family) for k in range(6)]
    total = reduce(add, (count(row, name_reeds(row.tones, row.targets)) for row in rows))
    assert total.right >= 0.99 * total.tones
    assert total.left_alone == total.strays


def test_shuffled_rows_name_all_but_unisons_and_own_up_to_those() -> None:
    rows = [row_shuffled(80_000 + k) for k in range(30)]
    total = reduce(add, (count(row, name_reeds(row.tones, row.targets)) for row in rows))
    assert total.near >= 0.99 * total.tones
    # Two of some twenty reeds are unisons, and half of these guesses are wrong.
    assert total.right >= 0.9 * total.tones


def test_a_harp_at_443_is_named_on_targets_at_440() -> None:
    high = reed_targets(make_harp("G"), TargetWishes(a4=443.0))
    tones = played(HOLE_BY_HOLE, targets=high)
    found = name_reeds(tones, G)
    assert names(found) == HOLE_BY_HOLE
    # 1200 log2(443/440) by hand: 11.76 cents.
    assert found.shift == pytest.approx(11.76, abs=0.01)
    assert [each.cents for each in found.reeds] == pytest.approx([11.76] * 20, abs=0.01)


@pytest.mark.parametrize("shift", [-60.0, -45.0, 45.0, 60.0])
def test_a_harp_off_by_up_to_60_cents_is_named(shift: float) -> None:
    random = np.random.default_rng(5)
    tones, _ = tones_of(HOLE_BY_HOLE, G, random, shift=shift, reed_off=8.0)
    found = name_reeds(tones, G)
    assert names(found) == HOLE_BY_HOLE
    assert found.shift == pytest.approx(shift, abs=6)


@pytest.mark.parametrize("cents", [-45.0, -30.0, 30.0, 45.0])
@pytest.mark.parametrize("reed", [Reed(3, D), Reed(5, B), Reed(7, D)])  # semitones lie beside
def test_a_single_reed_far_off_is_named(reed: Reed, cents: float) -> None:
    off = [cents if each == reed else 0.0 for each in HOLE_BY_HOLE]
    found = name_reeds(played(HOLE_BY_HOLE, off), G)
    assert names(found) == HOLE_BY_HOLE
    assert {each.reed: each.cents for each in found.reeds}[reed] == pytest.approx(cents, abs=0.01)


def test_bench_targets_and_those_of_playing_differ_by_the_pressure() -> None:
    targets = reed_targets(make_harp("G"), TargetWishes(pressure=6.0))
    tones = tuple(plain_tone(targets.of(reed).bench_hz, k) for k, reed in enumerate(HOLE_BY_HOLE))
    assert name_reeds(tones, targets).shift == pytest.approx(0.0, abs=0.01)
    assert name_reeds(tones, targets, at_bench=False).shift == pytest.approx(6.0, abs=0.01)


def test_one_reed_alone_is_named() -> None:
    found = name_reeds(played([Reed(4, D)], [12.0]), G)
    assert names(found) == [Reed(4, D)]
    assert len(found.missing) == 19


def test_what_is_no_reeds_is_left_alone() -> None:
    reeds = [Reed(1, B), Reed(1, D), Reed(2, B)]
    tones = (*played(reeds), plain_tone(at(Reed(2, B)) * 2 ** (1.5 / 12), 6.0), plain_tone(50.0, 8))
    found = name_reeds(tones, G)
    assert names(found) == [*reeds, None, None]


def test_no_tones_make_an_empty_measurement() -> None:
    found = name_reeds((), G)
    assert found.reeds == () and len(found.missing) == 20 and found.shift == 0.0


def test_a_reed_heard_twice_is_one_reed() -> None:
    row = [*HOLE_BY_HOLE[:7], Reed(4, B), Reed(4, B), *HOLE_BY_HOLE[7:]]
    found = name_reeds(played(row), G)
    assert names(found) == row
    assert {each.reed: each.tones for each in found.reeds}[Reed(4, B)] == 3


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        # G harp: 2 draw and 3 blow are both D5.
        ([Reed(2, B), None, Reed(3, D), Reed(4, B)], None),
        ([Reed(1, D), None, Reed(3, D), Reed(4, D), Reed(5, D)], TWO_DRAW),
        ([Reed(1, B), Reed(2, B), None, Reed(4, B), Reed(5, B)], THREE_BLOW),
        ([Reed(5, B), Reed(4, B), None, Reed(2, B), Reed(1, B)], THREE_BLOW),
        ([Reed(5, D), Reed(4, D), Reed(3, D), None, Reed(1, D)], TWO_DRAW),
    ],
)
def test_a_unison_is_told_by_what_stands_around_it(row, expected) -> None:
    tones = played([each or TWO_DRAW for each in row])
    found = name_reeds(tones, G).tones[row.index(None)]
    if expected is None:
        assert {found.reed, *found.others} == {TWO_DRAW, THREE_BLOW}
    else:
        assert found.reed == expected and found.sure > 0.9 and not found.others


def test_unisons_at_plainly_different_pitches_are_the_two_reeds() -> None:
    rest = [Reed(7, B), TWO_DRAW, Reed(1, D), Reed(9, D), TWO_DRAW, Reed(4, B), Reed(10, D)]
    found = name_reeds(played(rest, [0, -9.0, 0, 0, 9.0, 0, 0]), G)
    pair = [each for each in found.tones if each.reed in (TWO_DRAW, THREE_BLOW)]
    assert {each.reed for each in pair} == {TWO_DRAW, THREE_BLOW}
    # Which is which nothing tells here, and that is said.
    assert all(each.others and each.sure < 0.75 for each in pair)


def test_unisons_heard_three_times_go_with_their_pitch() -> None:
    row = [Reed(1, B), Reed(1, D), Reed(2, B), TWO_DRAW, TWO_DRAW, THREE_BLOW, Reed(3, D)]
    off = [0, 0, 0, -8.0, -8.4, 7.0, 0]
    assert names(name_reeds(played(row, off), G)) == row
    row[4] = THREE_BLOW
    off[4] = 7.3
    assert names(name_reeds(played(row, off), G)) == row


def test_an_earlier_measurement_tells_unisons_apart_in_any_order() -> None:
    before = {reed: at(reed) for reed in HOLE_BY_HOLE} | {
        TWO_DRAW: at(TWO_DRAW, -7.0),
        THREE_BLOW: at(THREE_BLOW, 7.0),
    }
    row = [Reed(7, B), THREE_BLOW, Reed(1, D), Reed(9, D), TWO_DRAW, Reed(4, B), Reed(10, D)]
    tones = played(row, [0, 6.5, 0, 0, -7.5, 0, 0])
    found = name_reeds(tones, G, before=before)
    assert names(found) == row
    assert all(each.sure > 0.9 for each in found.tones)
    # A whole measurement does as well; one that did not know itself teaches nothing.
    known = name_reeds(played(HOLE_BY_HOLE, [1200 * np.log2(before[each] / at(each))
                                             for each in HOLE_BY_HOLE]), G)  # fmt: skip
    assert names(name_reeds(tones, G, before=known)) == row
    unsure = name_reeds(tones, G, "shuffled")
    again = name_reeds(tones, G, "shuffled", before=unsure)
    assert all(each.others for each in again.reeds if each.reed in (TWO_DRAW, THREE_BLOW))


def test_a_half_converted_harp_is_named_with_what_it_was() -> None:
    wanted = reed_targets(make_harp("G", "richter-raised-3-blow"))
    for cents in (-200.0, -150.0, -100.0, -60.0, 0.0):
        off = [cents if each == THREE_BLOW else 0.0 for each in HOLE_BY_HOLE]
        found = name_reeds(played(HOLE_BY_HOLE, off, wanted), wanted, now=G)
        assert names(found) == HOLE_BY_HOLE, cents
    # Without being told, a reed a semitone off is no reed of the harp that is wanted.
    off = [-100.0 if each == THREE_BLOW else 0.0 for each in HOLE_BY_HOLE]
    assert None in names(name_reeds(played(HOLE_BY_HOLE, off, wanted), wanted))


def test_pairs_are_two_reeds_of_one_breath() -> None:
    octaves = [(Reed(1, B), Reed(4, B)), (Reed(2, D), Reed(6, D)), (Reed(3, B), Reed(6, B))]
    tones = [*played(HOLE_BY_HOLE)]
    for low, high in octaves:
        tones.append(together(at(low), at(high)))
    found = name_reeds(tones, G)
    assert [(each.reed, each.upper) for each in found.tones[20:]] == [
        (Reed(1, B), Reed(4, B)),
        # 2 draw with 6 draw: D5 and E6, so of the two D5 the draw reed.
        (Reed(2, D), Reed(6, D)),
        (Reed(3, B), Reed(6, B)),
    ]
    # Pairs do not count among the tones of one reed.
    assert all(each.tones == 1 for each in found.reeds)


def together(low: float, high: float) -> Tone:
    return Tone(50, 51, low, 0.3, 1, 0.03, -20, 30, upper_hz=high, upper_uncertainty=0.3)


def test_of_unisons_in_one_breath_a_pair_holds_the_one_that_sounded_so_alone() -> None:
    solo = reed_targets(make_harp("C", "solo"))  # 4 and 5 blow are both C5
    off = [{Reed(4, B): -8.0, Reed(5, B): 8.0}.get(each, 0.0) for each in HOLE_BY_HOLE]
    alone = played(HOLE_BY_HOLE, off, solo)
    for upper in (Reed(4, B), Reed(5, B)):
        pitch = at(upper, off[HOLE_BY_HOLE.index(upper)], solo)
        found = name_reeds([*alone, together(at(Reed(2, B), 0, solo), pitch)], solo).tones[-1]
        assert (found.reed, found.upper) == (Reed(2, B), upper)
        assert found.sure > 0.9 and not found.others


def test_a_pair_is_within_a_mouths_reach() -> None:
    solo = reed_targets(make_harp("C", "solo"))  # 8 and 9 blow are both C6
    found = name_reeds([together(at(Reed(3, B), 0, solo), at(Reed(8, B), 0, solo))], solo).tones[0]
    assert (found.reed, found.upper) == (Reed(3, B), Reed(8, B))
    assert found.sure > 0.9


def test_reeds_heard_many_times_each_are_kept_apart() -> None:
    wanted = reed_targets(make_harp("G", "richter-raised-3-blow"))
    row = [reed for reed in HOLE_BY_HOLE[:8] for _ in range(6)]
    # Half converted: 3 blow is still the unison of 2 draw, or is done, or was worked on between.
    for before, after in ((-200.0, -200.0), (0.0, 0.0), (-200.0, 0.0)):
        off = [0.0] * len(row)
        first = row.index(THREE_BLOW)
        off[first : first + 6] = [before + 6.0] * 3 + [after + 6.0] * 3
        assert names(name_reeds(played(row, off, wanted), wanted, now=G)) == row


def test_a_pair_of_no_breath_is_no_pair() -> None:
    tone = together(at(Reed(1, B)), at(Reed(4, B), 100.0))
    assert name_reeds([tone], G).tones[0].upper is None


@pytest.mark.parametrize(
    ("order", "row"),
    [
        ("blow 1-10, draw 1-10", [Reed(h, b) for b in (B, D) for h in HOLES]),
        ("draw 10-1 blow 1-10", [Reed(h, D) for h in HOLES[::-1]] + [Reed(h, B) for h in HOLES]),
        ("1b 1d 2b 2d 3b", [Reed(1, B), Reed(1, D), Reed(2, B), TWO_DRAW, THREE_BLOW]),
        ("3 blow 2 draw", [THREE_BLOW, TWO_DRAW]),
        ("2d, 2d, 3b 3b", [TWO_DRAW, TWO_DRAW, THREE_BLOW, THREE_BLOW]),
    ],
)
def test_a_listed_order_is_followed(order: str, row: list[Reed]) -> None:
    assert asked_orders(order, G.harp)[0].reeds == tuple(row)
    assert names(name_reeds(played(row), G, order)) == row


def test_a_listed_order_stands_repeats_and_leaps_back() -> None:
    first = [Reed(1, B), Reed(1, D), TWO_DRAW, Reed(3, D)]
    row = [*first, Reed(1, D), TWO_DRAW, TWO_DRAW, Reed(3, D), THREE_BLOW]
    found = name_reeds(played(row), G, "1b 1d 2d 3d 3b")
    assert names(found) == row


def test_words_for_an_order_leave_only_such_orders() -> None:
    down = asked_orders("down, draw then blow", G.harp)
    assert down and all({"down", "draw first"} <= each.kinds for each in down)
    assert len(asked_orders("up", G.harp)) > len(asked_orders("up, hole by hole", G.harp))
    assert asked_orders("shuffled", G.harp)[0].words == "shuffled"


@pytest.mark.parametrize("text", ["sideways", "1x", "blow 11", "3", "blow", "up, down", ",", "0b"])
def test_an_order_that_is_not_understood_is_refused_with_help(text: str) -> None:
    with pytest.raises(OrderError, match=r"order: .*(say up|holes are 1 to 10)"):
        name_reeds(played([Reed(1, B)]), G, text)


def test_the_order_that_was_followed_is_said() -> None:
    for order in usual_orders(G.harp):
        if "by pitch" in order.kinds or "shuffled" in order.kinds:
            continue
        assert name_reeds(played(order.reeds), G).order == order.words


@pytest.mark.parametrize(
    "row",
    [
        [Reed(h + s, b) for h in (1, 5, 7) for b in (B, D) for s in range(4)],
        [Reed(h + s, b) for h in range(1, 9) for b in (B, D) for s in (0, 2)],
        [Reed(h + s, b) for h in range(1, 8) for b in (B, D) for s in (0, 3)],
        [Reed(h + s, b) for h in range(1, 9) for s, b in ((2, B), (0, D))],
    ],
    ids=["four holes at a time", "over one hole", "over two holes", "blow ahead of draw"],
)
def test_an_order_of_the_players_own_is_learned(row: list[Reed]) -> None:
    # None of the usual orders; only that the row is alike all along tells the unisons apart.
    found = name_reeds(played(row), G)
    assert names(found) == row
    assert min(each.sure for each in found.tones) > 0.9
    assert found.order == "an order of its own"


@given(
    seed=st.integers(0, 10_000),
    shift=st.floats(-60, 60),
    order=st.permutations(range(20)),
    kept=st.integers(8, 20),
)
@settings(max_examples=30, deadline=None)
def test_reeds_of_a_note_of_their_own_are_named_whatever_the_order(
    seed: int, shift: float, order: list[int], kept: int
) -> None:
    row = [HOLE_BY_HOLE[k] for k in order[:kept]]
    tones, _ = tones_of(row, G, np.random.default_rng(seed), shift=shift, reed_off=6.0)
    found = name_reeds(tones, G)
    for reed, each in zip(row, found.tones, strict=True):
        if reed in (TWO_DRAW, THREE_BLOW):
            assert each.reed in (TWO_DRAW, THREE_BLOW)
        else:
            assert each.reed == reed
    assert 0 <= min(each.sure for each in found.tones) <= 1 + 1e-9
