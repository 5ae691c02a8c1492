"""Where breaths are proposed: the places a player would take, the fewest that do."""

import itertools
import random
from dataclasses import replace

import pytest
from handmade_arrangements import by_hand
from hypothesis import given, settings
from hypothesis import strategies as st

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Sounding
from reedwright.player.lungs import Lungs
from reedwright.player.profile import Profile
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath.airline import make_airline
from reedwright.tab.breath.model import BreathReason
from reedwright.tab.breath.places import Place, Places
from reedwright.tab.breath.plan import plan_breaths, practice_breaths
from reedwright.tab.breath.search import CROWDED, RHYME, Trials
from reedwright.tab.ornaments.model import Origin
from reedwright.tab.ways import preference
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

C = make_harp("C")
USUAL = Lungs()


def easiest(midi: int) -> Sounding:
    return min(C.ways[midi], key=preference)


def arranged(
    abc: str, lungs: Lungs = USUAL, tempo: str = "1/4=60", meter: str = "4/4"
) -> Arrangement:
    """The tune on a C harp, each note in the way that the arranger prefers."""
    (tune,) = read_abc(f"X:1\nT:Test\nM:{meter}\nL:1/8\nQ:{tempo}\nK:C\n{abc}\n")
    assert isinstance(tune, Tune)
    soundings = {note.id: easiest(note.pitch.midi) for bar in tune.bars for note in bar.notes}
    beat, _, speed = tempo.partition("=")
    crotchets = {"1/4": 1.0, "1/2": 2.0, "3/8": 1.5}[beat] * float(speed)
    player = Profile("test", "For tests", lungs=lungs)
    return Arrangement(tune, C, player, soundings, (), 0.0, {}, quarters_per_minute=crotchets)


def places(arrangement: Arrangement) -> dict[str, Place]:
    found = Places(make_airline(arrangement), arrangement.tune.bars).after_notes()
    return {place.note_id: place for place in found}


def ends(arrangement: Arrangement, reason: BreathReason) -> list[tuple[int, str]]:
    """Bar and note name of the places with this reason."""
    notes = {note.id: note for bar in arrangement.tune.bars for note in bar.notes}
    return [
        (place.bar, notes[id_].pitch.name)
        for id_, place in places(arrangement).items()
        if place.reason is reason
    ]


EIGHT = "|".join(["CDEF GABc"] * 8)


def test_phrases_end_every_two_bars_and_parts_at_repeats() -> None:
    tune = arranged(f"|:{EIGHT}:|\n|:{EIGHT}:|")
    assert [bar for bar, _ in ends(tune, BreathReason.PHRASE_END)] == [2, 4, 6, 10, 12, 14]
    assert [bar for bar, _ in ends(tune, BreathReason.PART_END)] == [8, 16]
    four = places(tune)
    by_bar = {
        place.bar: place.cost for place in four.values() if place.reason is BreathReason.PHRASE_END
    }
    assert by_bar[4] < by_bar[2], "a longer phrase ends every four bars"


def test_a_phrase_ends_before_its_upbeat() -> None:
    tune = arranged(f"GA|:{'|'.join(['CDEF GABc'] * 7)}|CDEF E2GA:|")
    assert ends(tune, BreathReason.PART_END) == [(8, "E4")]
    phrase_ends = ends(tune, BreathReason.PHRASE_END)
    # The upbeat is a crotchet long: the others end after the sixth quaver too.
    assert phrase_ends == [(2, "A4"), (4, "A4"), (6, "A4")]


def test_a_last_bar_that_the_upbeat_shortens_ends_with_its_last_note() -> None:
    tune = arranged("GA|:CDEF GABc|CDEF GABc|CDEF GABc|CDEF GABc|CDEF GABc|CDEF DA:|")
    assert ends(tune, BreathReason.PART_END) == [(6, "A4")]


def test_a_long_note_before_the_bar_line_ends_the_phrase() -> None:
    tune = arranged(
        "CDE FGA|CDE FGA|CDE FGA|G3 EFA|" + "|".join(["CDE FGA"] * 4) + "|]", meter="6/8"
    )
    assert (4, "G4") in ends(tune, BreathReason.PHRASE_END)


def test_a_rest_is_as_good_as_a_phrase_end() -> None:
    tune = arranged("CDEF Gz Bc|CDEF GABc|CDEF GABc|CDEF GABc")
    assert (1, "G4") in ends(tune, BreathReason.PHRASE_END)


def test_long_notes_come_before_gaps_and_gaps_before_beams_and_slurs() -> None:
    tune = arranged("C4 DEFG|(AB)cd efga|CDEF GABc|CDEF GABc")
    by_note = list(places(tune).values())
    long, _, _, in_beam, gap, slur, after_slur = by_note[:7]
    assert long.reason is BreathReason.LONG_NOTE
    assert long.cost < gap.cost < in_beam.cost < slur.cost
    assert after_slur.cost < slur.cost


def test_no_breath_inside_a_tie_or_a_roll_that_is_written_out() -> None:
    tune = arranged("C4- C2DE|CDEF GABc")
    first = tune.tune.bars[0].notes
    assert first[0].id not in places(tune) and first[1].id in places(tune)
    # The arranger writes a roll as split notes n1, n1s2, n1s3.
    (bar, *bars), voice = tune.tune.bars, tune.tune.voices[0]
    roll = [replace(first[2], id=id_) for id_ in ("n1", "n1s2", "n1s3")]
    events = (*bar.events[:2], *roll)
    dressed = replace(
        tune.tune, voices=(replace(voice, bars=(replace(bar, events=events), *bars)),)
    )
    soundings = {**tune.soundings, **dict.fromkeys(("n1", "n1s2", "n1s3"), C.soundings[0])}
    found = places(replace(tune, tune=dressed, soundings=soundings))
    assert "n1s3" in found and "n1" not in found and "n1s2" not in found


def test_only_weak_short_bare_notes_can_be_dropped() -> None:
    tune = arranged("C2EF GA2{d}c|CDE(F GA)Bc|!trill!CDEF GABc|CDEF GABc")
    found = Places(make_airline(tune), tune.tune.bars).through_notes()
    dropped = {place.note_id for place in found}
    first, second = tune.tune.bars[0].notes, tune.tune.bars[1].notes
    assert first[2].id in dropped  # a quaver off the beat
    assert first[0].id not in dropped and first[1].id not in dropped  # on a beat
    assert first[4].id not in dropped  # a crotchet
    assert first[5].id not in dropped  # with a grace note
    assert second[3].id not in dropped and second[5].id not in dropped  # slurred


DRAW, BLOW = "d8|B8|f8|d8|", "c8|e8|g8|c8|"  # eight seconds' worth of one breath in each bar


def test_a_tune_that_breathes_by_itself_has_no_marks() -> None:
    tune = arranged("c4 d4|" * 16)
    plan = plan_breaths(tune)
    assert plan.marks == () and plan.account.outside == 0.0


@pytest.mark.parametrize(("bars", "full"), [(DRAW, True), (BLOW, False)])
def test_one_breath_alone_runs_full_or_empty_and_the_plan_prevents_it(
    bars: str, full: bool
) -> None:
    tune = arranged(bars * 2)
    plan = plan_breaths(tune)
    assert all(passing.full is full for passing in plan.without.passings)
    assert plan.without.passings and not plan.trouble
    assert all((taken.litres < 0) is full for taken in plan.account.taken)
    assert max(map(abs, plan.account.ends)) <= USUAL.most_litres


def test_a_mark_is_chosen_at_the_end_of_a_part_where_that_does() -> None:
    # Blow and draw with a surplus of blow: 0.4 l in each part of eight bars at this tempo.
    part = "c2c2 d2B2|e2c2 A2d2|" * 3 + "c4 e4|g4 c4"
    tune = arranged(f"|:{part}:|\n|:{part}:|", tempo="1/4=70")
    plan = plan_breaths(tune)
    assert plan.marks and not plan.trouble
    assert {mark.reason for mark in plan.marks} == {BreathReason.PART_END}


def test_the_teachers_breaths_stay_and_barred_places_stay_empty() -> None:
    tune = arranged(DRAW * 2)
    notes = [note.id for bar in tune.tune.bars for note in bar.notes]
    free = plan_breaths(tune)
    barred = {mark.note_id for mark in free.marks}
    other = plan_breaths(tune, never=barred)
    assert not barred & other.note_ids
    asked = plan_breaths(tune, always=frozenset({notes[0]}))
    (teacher,) = [mark for mark in asked.marks if mark.origin is Origin.TEACHER]
    assert (teacher.note_id, teacher.reason) == (notes[0], BreathReason.TEACHER)
    assert [mark.origin for mark in free.marks] == [Origin.SUGGESTED] * len(free.marks)


def test_where_nothing_may_be_marked_the_trouble_is_told() -> None:
    tune = arranged(DRAW * 2)
    notes = {note.id for bar in tune.tune.bars for note in bar.notes}
    plan = plan_breaths(tune, never=notes)
    assert plan.marks == () and plan.trouble == plan.without.passings != ()


def test_a_dropped_note_is_the_last_resort() -> None:
    # Nothing but draw quavers; breaths between them help, however many it takes.
    quavers = "dBdB dBdB|" * 4
    small = Lungs(comfortable_litres=0.3, most_litres=0.5, breath_rate=1.0)
    plan = plan_breaths(arranged(quavers, small, tempo="1/4=120"))
    assert not plan.trouble
    assert BreathReason.DROPPED_NOTE not in {mark.reason for mark in plan.marks}
    # A player too slow to breathe between them has to leave some out.
    slow = replace(small, breath_seconds=0.02)
    tune = arranged(quavers, slow, tempo="1/4=120")
    plan = plan_breaths(tune)
    assert not plan.trouble
    dropped = [mark for mark in plan.marks if mark.reason is BreathReason.DROPPED_NOTE]
    assert dropped
    quavers_of = {note.id: k for bar in tune.tune.bars for k, note in enumerate(bar.notes)}
    assert all(quavers_of[mark.note_id] % 2 for mark in dropped), "off the beat"


def test_slow_practice_keeps_the_breaths_and_adds_to_them() -> None:
    part = "c2c2 d2B2|e2c2 A2d2|" * 3 + "c4 e4|g4 c4"
    tune = arranged(f"|:{part}:|\n|:{part}:|", tempo="1/4=70")
    practice = practice_breaths(tune)
    fast, slow = practice.plans
    assert slow.account.seconds == pytest.approx(fast.account.seconds / 0.55)
    assert practice.more(1) and not practice.fewer(1)
    assert not slow.trouble
    assert practice.more(0) == practice.fewer(0) == ()


def test_practice_starts_from_the_marks_of_the_page() -> None:
    tune = arranged(DRAW * 2)
    notes = [note.id for bar in tune.tune.bars for note in bar.notes]
    marked = replace(tune, breaths=plan_breaths(tune, always=frozenset({notes[0]})).marks)
    practice = practice_breaths(marked)
    assert practice.plans[0].marks == marked.breaths
    assert notes[0] in practice.plans[1].note_ids


@st.composite
def _lines(draw: st.DrawFn) -> str:
    notes = st.sampled_from(["4b", "4d", "5d", "6b", "2d", "8d", "z"])
    bars = draw(st.lists(st.lists(notes, min_size=1, max_size=3), min_size=2, max_size=6))
    length = draw(st.sampled_from([2, 4, 8]))
    text = " | ".join(" ".join(f"{note}:{length}" for note in bar) for bar in bars)
    return f"|: {text} :|" if draw(st.booleans()) else text


@settings(deadline=None)
@given(_lines(), st.sampled_from([0.5, 1.0]))
def test_a_plan_never_makes_matters_worse(text: str, speed: float) -> None:
    tune = replace(by_hand(text), player=Profile("t", "T"), quarters_per_minute=60.0)
    if not tune.soundings:
        return
    plan = plan_breaths(tune, speed=speed)
    notes = lambda passings: sum(passing.notes for passing in passings)  # noqa: E731
    assert notes(plan.trouble) <= notes(plan.without.passings)
    assert plan == plan_breaths(tune, speed=speed)
    order = [note.id for bar in tune.tune.bars for note in bar.notes]
    assert [order.index(mark.note_id) for mark in plan.marks] == sorted(
        order.index(mark.note_id) for mark in plan.marks
    )


def cost(trials: Trials, chosen: tuple[Place, ...]) -> float:
    """What `search` says that it weighs, counted anew."""
    taken = {k: place.dropped for place in chosen for k in place.sounds}
    total = trials.unease(trials.run(taken))
    for place in chosen:
        alike = sum(other.rhyme == place.rhyme for other in chosen)
        total += place.cost * (RHYME if alike > 1 else 1.0)
    return total + CROWDED * trials.crowded(taken)


@pytest.mark.no_cover
def test_on_short_tunes_the_plan_is_nearly_always_the_cheapest_there_is() -> None:
    rng = random.Random(4)
    natural = (BreathReason.PART_END, BreathReason.PHRASE_END, BreathReason.LONG_NOTE)
    cheapest = cases = 0
    while cases < 60:
        bars = [rng.choice(["c8", "d8", "B8", "d4 B4", "d2B2 d2f2", "e4 c4"]) for _ in range(8)]
        shape = rng.choice(["{}|]", "|:{}:|"])
        tune = arranged(shape.format("|".join(bars)), tempo="1/4=60")
        plan = plan_breaths(tune)
        line = make_airline(tune)
        offered = [
            place for place in Places(line, tune.tune.bars).after_notes() if place.reason in natural
        ]
        if not plan.marks or any(mark.reason not in natural for mark in plan.marks):
            continue
        cases += 1
        trials = Trials(line, 1.0, {})
        chosen = tuple(place for place in offered if place.note_id in plan.note_ids)
        assert len(chosen) == len(plan.marks)
        least = min(
            cost(trials, some)
            for size in range(7)
            for some in itertools.combinations(offered, size)
        )
        reached = cost(trials, chosen)
        assert reached <= 1.5 * least + 1e-6
        cheapest += reached <= least + 1e-6
    print(f"{cheapest} of {cases} plans are the cheapest there is")
    assert cheapest >= 0.8 * cases


def test_draw_and_blow_are_what_the_tests_take_them_for() -> None:
    breaths = {name: easiest(midi).breath for name, midi in (("c", 72), ("d", 74), ("B", 71))}
    assert breaths == {"c": Breath.BLOW, "d": Breath.DRAW, "B": Breath.DRAW}
