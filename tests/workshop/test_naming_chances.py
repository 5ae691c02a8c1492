"""The arithmetic under the naming of reeds, against sums over every path and against scipy."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import multivariate_normal, norm

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Reed
from reedwright.harp.tunings import all_tunings
from reedwright.workshop.measuring.courses import STRAY, evidences, likely_states
from reedwright.workshop.measuring.nearness import densities, places, whole_shift
from reedwright.workshop.measuring.orders import asked_orders, moves, usual_orders
from reedwright.workshop.measuring.unisons import (
    LEFT_OUT,
    REED_SPREAD,
    RETUNED,
    TONE_SCATTER,
    dealing_weight,
    dealings,
    unison_groups,
)
from reedwright.workshop.targets.making import reed_targets

G = reed_targets(make_harp("G"))


@given(seed=st.integers(0, 10_000), timed=st.booleans())
@settings(max_examples=25, deadline=None)
def test_chances_are_the_sum_over_every_path(seed: int, timed: bool) -> None:
    random = np.random.default_rng(seed)
    states, number, stray = 3, 4, 0.3
    steps = random.random((number, 1, states + 1, states)) ** 3
    steps /= steps.sum(axis=3, keepdims=True)
    if not timed:
        steps = steps[:1]
    tones = random.random((number, states))
    whole, each = 0.0, np.zeros((number, states))
    for path in product(range(states + 1), repeat=number):  # the last: no reed's
        likely, at = 1.0, states
        for t, state in enumerate(path):
            if state == states:
                likely *= STRAY * stray
            else:
                step = steps[t if timed else 0, 0]
                likely *= (1 - STRAY) * step[at, state] * tones[t, state]
                at = state
        whole += likely
        for t, state in enumerate(path):
            if state < states:
                each[t, state] += likely
    given_steps = steps if timed else steps[0]
    assert evidences(given_steps, tones[None], stray)[0, 0] == pytest.approx(np.log(whole))
    assert likely_states(given_steps, tones, stray)[0] == pytest.approx(each / whole)


@pytest.mark.parametrize("name", sorted(all_tunings()))
def test_every_order_holds_every_reed_once_and_its_moves_sum_to_one(name: str) -> None:
    harp = make_harp("C", name)
    reeds = tuple(target.reed for target in reed_targets(harp).reeds)
    for order in usual_orders(harp):
        assert sorted(order.reeds) == list(reeds)
        for again in (False, True):
            assert moves(order, reeds, again).sum(axis=1) == pytest.approx(np.ones(len(reeds) + 1))


def test_in_an_order_the_next_reed_is_the_likeliest() -> None:
    reeds = tuple(target.reed for target in G.reeds)
    for order in usual_orders(G.harp)[:-1]:
        rows = moves(order, reeds, False)
        where = {reed: k for k, reed in enumerate(reeds)}
        for one, other in zip(order.reeds, order.reeds[1:], strict=False):
            assert int(np.argmax(rows[where[one]])) == where[other]
        assert int(np.argmax(rows[-1])) == where[order.reeds[0]]
        # At its end from the beginning again.
        assert int(np.argmax(rows[where[order.reeds[-1]]])) == where[order.reeds[0]]
    listed = asked_orders("4b 2d 4b", G.harp)[0]
    assert moves(listed, (*listed.reeds, Reed(1, Breath.BLOW)), False).shape == (5, 4)


def test_tones_dealt_to_a_reed_weigh_as_normal_about_one_pitch() -> None:
    off, doubt = [3.0, 5.0, -9.0], [0.3, 0.5, 0.4]
    noise = np.square(doubt) + TONE_SCATTER**2
    wide = REED_SPREAD**2
    # Reed 0 has the first two, reed 1 the third.
    joint = multivariate_normal([0, 0], [[noise[0] + wide, wide], [wide, noise[1] + wide]])
    apart = norm(0, np.sqrt(noise + wide)).logpdf(off)
    ratio = np.exp(joint.logpdf(off[:2]) - apart[:2].sum())
    expected = np.log((1 - RETUNED) * ratio + RETUNED)
    assert dealing_weight((0, 0, 1), off, doubt, 2) == pytest.approx(expected)
    # All three to one: the other has none.
    spread = np.diag(noise) + wide
    ratio = np.exp(multivariate_normal(np.zeros(3), spread).logpdf(off) - apart.sum())
    expected = np.log((1 - RETUNED) * ratio + RETUNED) + np.log(LEFT_OUT)
    assert dealing_weight((1, 1, 1), off, doubt, 2) == pytest.approx(expected)


def test_few_tones_are_dealt_in_every_way_and_many_in_not_too_many() -> None:
    assert len(dealings([0.0, 1.0, 2.0], 2)) == 8
    pitches = [9.0, -5.0, 8.7, -5.2, -4.8, 9.1, 8.9, 9.2, -5.1, 9.3, -4.9]
    ways = dealings(pitches, 2)
    assert len(ways) < 300 and (0,) * 11 in ways and (1,) * 11 in ways
    by_pitch = tuple(int(each > 0) for each in pitches)
    assert by_pitch in ways and tuple(1 - each for each in by_pitch) in ways
    assert (0,) * 4 + (1,) * 7 in ways
    best = max(ways, key=lambda way: dealing_weight(way, pitches, [0.3] * 11, 2))
    assert best in (by_pitch, tuple(1 - each for each in by_pitch))


@pytest.mark.parametrize(
    ("tuning", "groups"),
    [
        # Read off the tunings' own note lists (harp/data): equal notes.
        ("richter", [{"2 draw", "3 blow"}]),
        ("richter-raised-3-blow", []),
        ("solo", [{"4 blow", "5 blow"}, {"8 blow", "9 blow"}]),
        ("natural-minor", [{"2 draw", "3 blow"}]),
    ],
)
def test_unisons_are_the_equal_notes_of_a_tuning(tuning: str, groups: list[set[str]]) -> None:
    among = places(reed_targets(make_harp("A", tuning)))
    found = [
        {f"{among.reeds[k].hole} {among.reeds[k].breath.value}" for k in group}
        for group in unison_groups(among)
    ]
    assert found == groups


def test_densities_sum_to_one_over_the_pitches_near_a_reed() -> None:
    now = reed_targets(make_harp("G", "richter-raised-3-blow"))
    before = {Reed(5, Breath.DRAW): G.of(Reed(5, Breath.DRAW)).hz * 1.002}
    among = places(G, True, now, before)
    cents = np.arange(-500, 500, 0.5)
    for k, hz in enumerate(among.hz):
        whole = densities(list(hz * 2 ** (cents / 1200)), among, 7.0)[:, k].sum() * 0.5
        # The tails beyond 75 cents are cut off.
        assert whole == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize("shift", [-60, -20, 0, 33, 60])
def test_the_whole_harps_shift_is_found_from_a_few_reeds_and_a_stray(shift: int) -> None:
    among = places(G)
    heard = [float(among.hz[k]) * 2 ** (shift / 1200) for k in (0, 3, 5, 8, 9, 12, 17)]
    assert whole_shift([*heard, 333.0], among) == pytest.approx(shift, abs=5)
    assert whole_shift([], among) == 0.0
