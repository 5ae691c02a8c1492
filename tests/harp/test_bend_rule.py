"""The rule by which a hole's notes follow from its reeds, on every shape that a hole can have."""

from hypothesis import given
from hypothesis import strategies as st

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Reed, Sounding, Technique, Tuning
from reedwright.harp.tunings import all_tunings

BLOW, DRAW = Reed(1, Breath.BLOW), Reed(1, Breath.DRAW)


def hole(blow: int, draw: int, *isolated: Reed) -> dict[str, list[int]]:
    """What one hole sounds, as steps from middle C, by `breath technique`."""
    tuning = Tuning("one", "one", "", (60 + blow,), (60 + draw,))
    found: dict[str, list[int]] = {}
    for sounding in make_harp("C", tuning, valves=isolated).soundings:
        name = f"{sounding.breath} {sounding.technique}"
        found.setdefault(name, []).append(sounding.midi - 60)
    return found


def test_draw_higher_bends_draw_and_overblows() -> None:
    assert hole(0, 3) == {
        "blow natural": [0],
        "blow overblow": [4],
        "draw natural": [3],
        "draw bend": [2, 1],
    }


def test_blow_higher_bends_blow_and_overdraws() -> None:
    assert hole(3, 0) == {
        "blow natural": [3],
        "blow bend": [2, 1],
        "draw natural": [0],
        "draw overdraw": [4],
    }


def test_equal_reeds_neither_bend_nor_overblow() -> None:
    assert hole(0, 0) == {"blow natural": [0], "draw natural": [0]}


def test_reeds_a_semitone_apart_overblow_but_have_no_bend_between() -> None:
    assert hole(0, 1) == {"blow natural": [0], "blow overblow": [2], "draw natural": [1]}


def test_isolated_lower_reed_bends_alone_and_the_other_as_before() -> None:
    assert hole(0, 3, BLOW) == {
        "blow natural": [0],
        "blow valved bend": [-1],
        "draw natural": [3],
        "draw bend": [2, 1],
    }


def test_isolated_higher_reed_bends_alone_and_keeps_the_overblow() -> None:
    # The valve over the blow slot closes on the draw only: the blow is as it was.
    assert hole(0, 3, DRAW) == {
        "blow natural": [0],
        "blow overblow": [4],
        "draw natural": [3],
        "draw valved bend": [2],
    }


def test_both_isolated_bend_alone() -> None:
    assert hole(0, 3, BLOW, DRAW) == {
        "blow natural": [0],
        "blow valved bend": [-1],
        "draw natural": [3],
        "draw valved bend": [2],
    }


def test_isolated_equal_reeds_bend_alone() -> None:
    assert hole(0, 0, BLOW)["blow valved bend"] == [-1]


reeds = st.integers(min_value=45, max_value=100)


@given(
    st.lists(st.tuples(reeds, reeds), min_size=1, max_size=12),
    st.sampled_from(("none", "half", "full")),
    st.integers(min_value=0, max_value=1),
)
def test_the_rule_holds_on_any_layout(
    holes: list[tuple[int, int]], valves: str, slide: int
) -> None:
    blow, draw = zip(*holes, strict=True)
    harp = make_harp("C", Tuning("any", "any", "", blow, draw, slide=slide), valves=valves)
    assert len(set(harp.soundings)) == len(harp.soundings)
    for sounding in harp.soundings:
        own = harp.reed_midi(sounding.hole, sounding.breath, sounding.slide)
        other = harp.reed_midi(sounding.hole, sounding.breath.other, sounding.slide)
        assert_follows(sounding, own, other)
    natural = [s for s in harp.soundings if s.technique is Technique.NATURAL]
    assert len(natural) == 2 * len(holes) * (1 + slide)
    if valves == "full":
        assert not {Technique.OVERBLOW, Technique.OVERDRAW, Technique.BEND} & {
            s.technique for s in harp.soundings
        }


def assert_follows(sounding: Sounding, own: int, other: int) -> None:
    assert sounding.bend == 0 or sounding.midi == own - sounding.bend
    match sounding.technique:
        case Technique.NATURAL:
            assert sounding.midi == own
        case Technique.BEND:
            assert other < sounding.midi < own
        case Technique.VALVED_BEND:
            assert sounding.midi == own - 1
        case Technique.OVERBLOW | Technique.OVERDRAW:
            assert own < other == sounding.midi - 1


def test_ways_hold_every_sounding_once_by_its_note() -> None:
    for tuning in all_tunings().values():
        harp = make_harp("D", tuning)
        again = [sounding for ways in harp.ways.values() for sounding in ways]
        assert sorted(again) == sorted(harp.soundings)
        assert all(s.midi == midi for midi, ways in harp.ways.items() for s in ways)
