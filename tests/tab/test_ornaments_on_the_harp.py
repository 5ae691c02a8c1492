"""What the neighbours of a hole allow: over all tunings and valve plans, and by common practice.

"Common practice, no source": a cut moves to the next hole in the same breath.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from played_effort import grace_effort

from reedwright.harp.making import KEYS, make_harp
from reedwright.harp.model import Breath, Harp, Reed, Sounding, Technique
from reedwright.harp.tunings import all_tunings
from reedwright.player.loading import load_profile
from reedwright.tab.ornaments.model import OrnamentKind
from reedwright.tab.ornaments.playable import (
    AS_WRITTEN,
    LOST,
    OTHER,
    Demand,
    demands_of,
    ornamenting,
)

PLAYER = load_profile("player")
TUNINGS = sorted(all_tunings())


def natural(harp: Harp, hole: int, breath: Breath) -> Sounding:
    return next(
        s
        for s in harp.soundings
        if (s.hole, s.breath, s.technique, s.slide) == (hole, breath, Technique.NATURAL, False)
    )


@st.composite
def harps(draw: st.DrawFn) -> Harp:
    tuning = all_tunings()[draw(st.sampled_from(TUNINGS))]
    reeds = [Reed(hole, breath) for hole in range(1, tuning.holes + 1) for breath in Breath]
    valves = draw(
        st.one_of(st.sampled_from(["none", "half", "full"]), st.sets(st.sampled_from(reeds)))
    )
    return make_harp(draw(st.sampled_from(KEYS)), tuning, valves=valves)


def test_a_cut_on_6_draw_reaches_7_draw_and_on_6_blow_7_blow() -> None:
    """Common practice, no source. On a C harp 7 draw sounds B5 and 7 blow C6 (published layout)."""
    has = ornamenting(make_harp("C"), PLAYER)
    for breath, midi in ((Breath.DRAW, 83), (Breath.BLOW, 84)):
        (cut,) = has.realised(natural(make_harp("C"), 6, breath), Demand("up")).touched
        assert (cut.hole, cut.breath, cut.midi) == (7, breath, midi)


@settings(max_examples=60, deadline=None)
@given(harp=harps(), data=st.data())
def test_an_ornament_never_leaves_the_breath_nor_the_slide_of_its_note(
    harp: Harp, data: st.DataObject
) -> None:
    main = data.draw(st.sampled_from(harp.soundings))
    whats = ["grace", "up", "down", "both", "shake", "bend"]
    what = data.draw(st.sampled_from(whats))
    demand = Demand(what, main.midi + data.draw(st.integers(-13, 13)), data.draw(st.booleans()))
    found = ornamenting(harp, load_profile("all-techniques")).realised(main, demand)
    assert (found.outcome == LOST) == (not found.touched)
    for touched in found.touched:
        assert touched.breath is main.breath and touched.slide == main.slide
        assert touched in harp.soundings
        near = 3 if found.outcome == AS_WRITTEN and what == "grace" else 1
        assert abs(touched.hole - main.hole) <= near
    if found.outcome == AS_WRITTEN and what == "grace":
        assert [touched.midi for touched in found.touched] == [demand.midi]
    if found.outcome == OTHER and what == "grace":
        # What sounds is what the neighbour sounds.
        (touched,) = found.touched
        assert touched == natural(harp, touched.hole, touched.breath) or touched.slide


@settings(max_examples=60, deadline=None)
@given(
    harp=harps(), name=st.sampled_from(["first-year", "player", "all-techniques"]), data=st.data()
)
def test_the_effort_of_a_grace_note_is_the_least_of_what_the_documentation_lists(
    harp: Harp, name: str, data: st.DataObject
) -> None:
    """Against the slow count of `played_effort`, which goes through every sounding."""
    player = load_profile(name)
    main = data.draw(st.sampled_from(harp.soundings))
    midi, last = main.midi + data.draw(st.integers(-12, 12)), data.draw(st.booleans())
    found = ornamenting(harp, player).realised(main, Demand("grace", midi, last))
    assert found.effort == pytest.approx(grace_effort(harp, player, main, midi, last))


def test_at_the_ends_of_the_harp_the_other_neighbour_stands_in() -> None:
    harp = make_harp("C")
    has = ornamenting(harp, PLAYER)
    for hole, what, other in ((1, "down", 2), (10, "up", 9), (10, "shake", 9)):
        found = has.realised(natural(harp, hole, Breath.BLOW), Demand(what))
        assert found.outcome == OTHER
        assert [touched.hole for touched in found.touched] == [other]


@settings(max_examples=40, deadline=None)
@given(harp=harps())
def test_slides_are_there_where_the_reed_bends_and_only_there(harp: Harp) -> None:
    everything = replace(PLAYER, techniques=load_profile("all-techniques").techniques)
    has = ornamenting(harp, everything)
    plain = ornamenting(harp, load_profile("first-year"))
    (slide,) = demands_of(OrnamentKind.SLIDE)
    for main in harp.soundings:
        if main.technique is not Technique.NATURAL:
            continue
        bends = [
            s for s in harp.soundings if s.bend == 1 and s[:2] == main[:2] and s.slide == main.slide
        ]
        found = has.realised(main, slide)
        assert list(found.touched) == bends
        assert plain.realised(main, slide).outcome == LOST  # nobody in the first year bends


def test_on_a_half_valved_harp_low_blow_notes_and_high_draw_notes_are_slid_into() -> None:
    """Common practice, no source: half-valving gives blow 1 to 6 and draw 7 to 10 a bend."""
    (slide,) = demands_of(OrnamentKind.SLIDE)
    for valves, gained in (("half", True), ("none", False)):
        harp = make_harp("C", valves=valves)
        has = ornamenting(harp, PLAYER)
        gains = [(hole, Breath.BLOW) for hole in range(1, 7)]
        gains += [(hole, Breath.DRAW) for hole in range(7, 11)]
        for hole, breath in gains:
            found = has.realised(natural(harp, hole, breath), slide)
            assert (found.outcome == AS_WRITTEN) == gained
        # Draw bends stay, whatever the valves.
        assert has.realised(natural(harp, 4, Breath.DRAW), slide).outcome == AS_WRITTEN
