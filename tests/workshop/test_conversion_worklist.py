"""Several conversions together: the fewest harps to buy, against trying all ways; one order."""

from __future__ import annotations

from collections import Counter
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Harp, Reed
from reedwright.workshop.conversion import sharing
from reedwright.workshop.conversion.donors import donor_cost
from reedwright.workshop.conversion.model import Donor, Purchase, Work
from reedwright.workshop.conversion.order import Stage
from reedwright.workshop.conversion.planning import plan_conversion
from reedwright.workshop.conversion.sharing import Swap, choose_donors
from reedwright.workshop.conversion.steps import bench_steps, worklist_steps
from reedwright.workshop.conversion.text import worklist_text
from reedwright.workshop.conversion.worklist import plan_worklist

KINDS = [make_harp(key) for key in ("C", "D", "E", "F", "G")]
PUT_IN = make_harp("C")  # the harp whose reeds are swapped
PLACES = [Reed(hole, breath) for hole in (4, 5, 6) for breath in Breath]
DONORS = st.builds(Donor, st.sampled_from(KINDS), st.sampled_from(PLACES), st.integers(-1, 1))


@st.composite
def swaps(draw: st.DrawFn) -> list[Swap]:
    found = []
    for _ in range(draw(st.integers(1, 5))):
        reed = Reed(5, draw(st.sampled_from(list(Breath))))
        donors = draw(st.lists(DONORS, min_size=1, max_size=4, unique_by=lambda d: d[:2]))
        found.append(
            Swap(reed, tuple(sorted(donors, key=lambda d: donor_cost(d, PUT_IN, reed))), PUT_IN)
        )
    return found


def harps_needed(donors: tuple[Donor, ...]) -> Counter[Harp]:
    """A harp gives each of its reeds once."""
    taken = Counter((donor.harp, donor.reed) for donor in donors)
    needed: Counter[Harp] = Counter()
    for (harp, _), times in taken.items():
        needed[harp] = max(needed[harp], times)
    return needed


@settings(max_examples=60, deadline=None)
@given(swaps(), st.dictionaries(st.sampled_from(KINDS), st.integers(1, 2), max_size=2))
def test_no_choice_of_donors_needs_fewer_harps_nor_less_work_with_as_many(
    wanted: list[Swap], at_hand: dict[Harp, int]
) -> None:
    chosen = choose_donors(wanted, at_hand)
    assert chosen.exact
    for donor, swap in zip(chosen.donors, wanted, strict=True):
        assert donor in swap.donors

    def worth(donors: tuple[Donor, ...]) -> tuple[int, int, float]:
        """To buy; to take apart of those at hand; work left."""
        needed = harps_needed(donors)
        bought = (needed - Counter(at_hand)).total()
        work = sum(donor_cost(d, PUT_IN, s.reed) for d, s in zip(donors, wanted, strict=True))
        return bought, needed.total() - bought, work

    every = [worth(donors) for donors in product(*(swap.donors for swap in wanted))]
    *fewest, least = min(every)
    *numbers, work = worth(chosen.donors)
    assert numbers == fewest
    assert work == pytest.approx(least, abs=0.01)
    assert chosen.harps == harps_needed(chosen.donors)


def test_one_donor_harp_serves_reeds_that_would_have_come_from_several() -> None:
    # Alone, each solo harp would take the reeds at their very pitch from wherever they are.
    plan = plan_conversion(make_harp("C", "solo"), stock=make_harp("C"))
    alone = harps_needed(tuple(w.donors[0] for w in plan.works if w.work is Work.SWAP)).total()
    listed = plan_worklist([plan])
    bought = sum(each.as_donor for each in listed.shopping)
    assert listed.exact
    assert bought < alone
    (agreed,) = listed.conversions
    for work in agreed.works:
        if work.work is Work.SWAP:
            donor = work.donors[0]
            assert donor.harp.name in work.how
            assert set(work.donors) == {
                d for w in plan.works if w.reed == work.reed for d in w.donors
            }
    swapped = [w for w in agreed.works if w.work is Work.SWAP]
    rest = sum(abs(w.cents) for w in agreed.works if w.work is not Work.SWAP) / 100
    assert agreed.semitones == pytest.approx(
        rest + sum(3 + abs(w.donors[0].semitones) for w in swapped)
    )


def test_two_equal_swaps_take_two_harps() -> None:
    reed = Reed(5, Breath.BLOW)
    donor = Donor(make_harp("C"), reed, 0)
    chosen = choose_donors([Swap(reed, (donor,), PUT_IN), Swap(reed, (donor,), PUT_IN)])
    assert chosen.harps == {make_harp("C"): 2}


def test_without_time_to_search_every_swap_takes_its_best_donor(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(sharing, "LONGEST_SECONDS", 0.0)
    plan = plan_conversion(make_harp("C", "solo"), stock=make_harp("C"))
    listed = plan_worklist([plan])
    assert not listed.exact
    assert listed.conversions == (plan,)
    assert "Perhaps fewer harps" in worklist_text(listed)


def test_harps_at_hand_are_converted_first_and_then_taken_apart() -> None:
    c, g = make_harp("C"), make_harp("G")
    raised = plan_conversion(make_harp("C", "richter-raised-3-blow"))
    listed = plan_worklist([raised, raised], at_hand=[c, g])
    # The one at hand becomes the first, a bought one the second.
    assert listed.shopping == (Purchase(c, 1, (2,)),)
    assert listed.from_hand == (Purchase(c, 1, (1,)),)
    assert "To take of those at hand\n  1 x C harp" in worklist_text(listed)
    # 3 blow swapped for A4: a D harp has it there, and none other as well.
    swapped = plan_conversion(make_harp("C", "richter-raised-3-blow"), stock=c, swap_over=1)
    listed = plan_worklist([swapped], at_hand=[c, c, make_harp("D")])
    assert listed.shopping == ()
    assert sum(each.as_donor for each in listed.from_hand) == 1
    assert sum(each.number for each in listed.from_hand) == 2


def test_stock_harps_are_counted_and_named_for_their_conversions() -> None:
    plans = [
        plan_conversion(make_harp("C", "richter-raised-3-blow")),
        plan_conversion(make_harp("G", "natural-minor")),
        plan_conversion(make_harp("G", "richter-raised-3-blow")),
    ]
    listed = plan_worklist(plans)
    assert listed.shopping == (
        Purchase(make_harp("C"), 2, (1, 2)),
        Purchase(make_harp("G"), 1, (3,)),
    )
    assert listed.conversions == tuple(plans)


def test_order_holds_every_work_once_and_lets_all_harps_settle_together() -> None:
    plans = [
        plan_conversion(make_harp(key, tuning), stock=make_harp(stock))
        for key, tuning, stock in (
            ("C", "solo", "C"),
            ("D", "richter-raised-3-blow", "D"),
            ("D", "solo", "D"),
        )
    ]
    listed = plan_worklist(plans)
    every = [(c, w) for c, plan in enumerate(plans) for w in range(len(plan.works))]
    assert sorted(listed.order) == every
    kinds = [listed.conversions[c].works[w].work is not Work.SWAP for c, w in listed.order]
    assert kinds == sorted(kinds)
    for c in range(len(plans)):
        own = [w for conversion, w in listed.order if conversion == c]
        assert own == sorted(own)


def test_nothing_to_convert_is_an_empty_list() -> None:
    listed = plan_worklist([])
    assert (listed.shopping, listed.order, listed.exact) == ((), (), True)


def test_every_harp_goes_through_all_its_stages_and_all_rest_together() -> None:
    plans = [
        plan_conversion(make_harp("C", "richter-raised-3-blow")),
        plan_conversion(make_harp("G"), stock=make_harp("G")),  # nothing to do
        plan_conversion(make_harp("D", "solo"), stock=make_harp("D")),
    ]
    listed = plan_worklist(plans)
    steps = worklist_steps(listed)
    assert [step.stage for step in steps] == list(Stage)
    for c, conversion in enumerate(listed.conversions):
        own = tuple(step for shared in steps for number, step in shared.harps if number == c)
        assert own == bench_steps(conversion)
    harps = {step.stage: [c for c, _ in step.harps] for step in steps}
    # Only the D harp has reeds to swap; both rest, are finished and tried; the G harp is left be.
    assert harps[Stage.SWAP] == [2]
    assert harps[Stage.SETTLE] == harps[Stage.FINE] == harps[Stage.CHORDS] == [0, 2]
    assert [work.reed for _, step in steps[3].harps[:1] for work in step.works] == [
        Reed(3, Breath.BLOW)
    ]
