"""What valves change, against the rules of the trade written out once more by hand.

The rules (two-reed bends, overblows, what a valve does) are common practice without a source, as
the house's design states them; `by_the_rules` works them out from two pitches alone.
"""

import json

from hypothesis import given
from test_valve_plan import harps

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Harp, Reed, Technique
from reedwright.workshop.valving.effects import effect_words, pitches_changed, valve_effects
from reedwright.workshop.valving.planning import plan_valves
from reedwright.workshop.valving.text import summary_words, valve_plan_report, valve_plan_text

Way = tuple[str, int]


def by_the_rules(own: int, other: int, isolated: bool) -> set[Way]:
    """What one breath of a hole sounds, given the pitch of its reed and of the other one."""
    ways = {("reed", own)}
    if isolated:
        return ways | {("valved bend", own - 1)}
    if own > other:
        return ways | {("bend", pitch) for pitch in range(other + 1, own)}
    return ways | ({("over", other + 1)} if own < other else set())


def ways_of(found) -> set[Way]:
    names = {
        Technique.NATURAL: "reed",
        Technique.BEND: "bend",
        Technique.VALVED_BEND: "valved bend",
        Technique.OVERBLOW: "over",
        Technique.OVERDRAW: "over",
    }
    return {(names[way.technique], way.midi) for way in found}


@given(harps())
def test_each_valve_changes_what_the_rules_say(harp: Harp):
    for effect in valve_effects(plan_valves(harp)):
        reed = effect.valve.isolates
        own = harp.reed_midi(reed.hole, reed.breath)
        other = harp.reed_midi(reed.hole, reed.breath.other)
        before, after = by_the_rules(own, other, False), by_the_rules(own, other, True)
        assert ways_of(effect.gained) == after - before
        assert ways_of(effect.lost) == before - after
        assert {way.breath for way in effect.gained + effect.lost} == {reed.breath}
        # Of the hole's other breath nothing changes: what bends there, still does.
        free = Reed(reed.hole, reed.breath.other) not in harp.isolated
        bends = {w for w in by_the_rules(other, own, False) if w[0] == "bend"} if free else set()
        assert ways_of(effect.kept) == bends
        assert effect.purer == (own < other)
        # Without its valve a reed bends, and so takes vibrato, only a whole tone above the other.
        assert effect.vibrato == (own < other + 2)


@given(harps())
def test_what_the_plan_says_changed_is_the_difference_of_all_soundings(harp: Harp):
    plan = plan_valves(harp)
    bare = Harp(harp.tuning, harp.key, harp.transpose)

    def of(h: Harp) -> set[tuple[int, Breath, Technique, int]]:
        return {(s.hole, s.breath, s.technique, s.midi) for s in h.soundings}

    gained = {(s.hole, s.breath, s.technique, s.midi) for c in plan.changes for s in c.gained}
    lost = {(s.hole, s.breath, s.technique, s.midi) for c in plan.changes for s in c.lost}
    assert gained == of(harp) - of(bare)
    assert lost == of(bare) - of(harp)
    pitches = pitches_changed(plan)
    assert set(pitches.gained) == {s.midi for s in harp.soundings} - {
        s.midi for s in bare.soundings
    }
    assert set(pitches.lost) == {s.midi for s in bare.soundings} - {s.midi for s in harp.soundings}


def test_half_valving_keeps_the_two_reed_bends_and_loses_overblows_and_overdraws():
    plan = plan_valves(make_harp("C", valves="half"))
    lost = {way.technique for change in plan.changes for way in change.lost}
    gained = {(way.technique, way.bend) for change in plan.changes for way in change.gained}
    assert lost == {Technique.OVERBLOW, Technique.OVERDRAW}
    assert gained == {(Technique.VALVED_BEND, 1)}
    assert [change.hole for change in plan.changes] == list(range(1, 11))
    # The layout in C by the design's facts: hole 3 draws B4 over G4, hole 8 blows E6 over D6.
    kept = {e.valve.isolates: [way.midi for way in e.kept] for e in valve_effects(plan)}
    assert kept[Reed(3, Breath.BLOW)] == [70, 69, 68]
    assert kept[Reed(8, Breath.DRAW)] == [87]
    assert kept[Reed(5, Breath.BLOW)] == []
    assert all(e.vibrato and e.purer for e in valve_effects(plan))


def test_effects_are_told_in_words():
    plan = plan_valves(make_harp("C", valves="half"))
    words = {e.valve.name: effect_words(e, plan.harp) for e in valve_effects(plan)}
    assert words["draw 2"] == (
        "Blow 2 bends alone to Eb4, takes true vibrato and is less breathy. Lost: the overblow "
        "Ab4. Kept: the draw bends F#4 and F4."
    )
    full = plan_valves(make_harp("C", valves="draw 2"))
    (effect,) = valve_effects(full)
    assert effect_words(effect, full.harp) == (
        "Draw 2 bends alone to F#4. Lost: the two-reed bends F#4 and F4 (F#4 can still be had, by "
        "bending alone)."
    )


def test_the_plan_reads_well_in_a_terminal():
    plan = plan_valves(make_harp("C", valves="half"))
    assert summary_words(plan) == (
        "10 valves: blow slots 7 to 10 outside, under the cover, draw slots 1 to 6 inside, facing "
        "the comb."
    )
    text = valve_plan_text(plan, 72)
    assert max(map(len, text.splitlines())) <= 72
    for words in ("Blow plate, outside", "New on this harp: B3.", "Glue gives off fumes", "Db7"):
        assert words in text
    assert "No valves." in valve_plan_text(plan_valves(make_harp("C")))


def test_the_report_is_json_with_all_sizes():
    plan = plan_valves(make_harp("G", "richter-raised-3-blow", valves="half"))
    report = json.loads(json.dumps(valve_plan_report(plan)))
    assert report["valving"] == "half-valved"
    first = report["valves"][0]
    assert (first["plate"], first["hole"], first["side"]) == ("blow", 7, "outside")
    assert first["isolates"] == {"breath": "draw", "hole": 7}
    assert first["slot_size"] == "from memory"
    assert [way["note"] for way in first["lost"]] == ["Ab5"]
    assert [valve["length_mm"] for valve in report["valves"]] == [v.length for v in plan.valves]
