"""The account of air: worked by hand, however ties split a note, at any speed, with breaths."""

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from handmade_arrangements import by_hand
from hypothesis import given
from hypothesis import strategies as st

from reedwright.harp.making import make_harp
from reedwright.player.lungs import Lungs
from reedwright.player.profile import Profile
from reedwright.sound import clock as sound_clock
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath import airline
from reedwright.tab.breath.account import BreathAccount, breath_account
from reedwright.tab.breath.model import BreathMark, BreathReason
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

USUAL = Lungs()
QUARTERS = 60.0  # a minute: a quaver lasts half a second


def lungs_of(arrangement: Arrangement, lungs: Lungs = USUAL) -> Arrangement:
    player = Profile("test", "For tests", lungs=lungs)
    return replace(arrangement, player=player, quarters_per_minute=QUARTERS)


def account(text: str, harp: str = "C", lungs: Lungs = USUAL, **more: object) -> BreathAccount:
    return breath_account(lungs_of(by_hand(text, make_harp(harp)), lungs), **more)  # type: ignore[arg-type]


def test_a_draw_note_fills_and_a_blow_note_empties() -> None:
    # 4 quavers of half a second: two seconds at 0.2 litres, middle holes.
    assert account("4d:4").ends == pytest.approx([0.4])
    assert account("4b:4").ends == pytest.approx([-0.4])
    assert account("4d:4 4b:2").ends == pytest.approx([0.4, 0.2])


@pytest.mark.parametrize(
    ("tab", "factor"),
    [
        ("2d:4", 1.2),
        ("3d'':4", 1.2 * 1.25),
        ("4d':4", 1.25),
        ("8d:4", 0.7),
        ("10b':4", -0.7 * 1.25),
        ("6b°:4", -1.3),
    ],
)
def test_holes_and_techniques_take_their_factor(tab: str, factor: float) -> None:
    assert account(tab).ends == pytest.approx([0.4 * factor])


def test_a_valved_reed_leaks_less() -> None:
    half = make_harp("C", valves="half")
    blow = breath_account(lungs_of(by_hand("4b:4", half)))
    draw = breath_account(lungs_of(by_hand("4d:4", half)))
    assert blow.ends == pytest.approx([-0.4 * 0.85])
    assert draw.ends == pytest.approx([0.4])  # half-valving isolates the blow reeds of 1 to 6


def test_a_rest_leads_to_the_middle_and_not_past_it() -> None:
    long_draw = account("4d:40 z:1 4d:1")  # 4 l, then half a second of rest at 1.5 l
    assert long_draw.ends == pytest.approx([4.0, 4.0 - 0.75 + 0.1])
    assert account("4d:4 z:8 4d:1").ends == pytest.approx([0.4, 0.1])


def test_a_missing_note_is_silence() -> None:
    assert account("4d:40 ?C#5:1 4d:1").ends == account("4d:40 z:1 4d:1").ends


def test_a_breath_takes_its_time_from_the_note() -> None:
    mark = BreathMark("n1", 1, BreathReason.BETWEEN)
    taken = account("4d:40 4d:4", breaths=(mark,))
    # 19.75 s of sound, a quarter of a second at 4 l, 2 s of sound.
    assert taken.ends == pytest.approx([3.95, 3.95 - 1.0 + 0.4])
    (breath,) = taken.taken
    assert (breath.litres, breath.seconds) == pytest.approx((-1.0, 19.75))


def test_a_breath_leaves_half_of_a_short_note() -> None:
    mark = BreathMark("n2", 1, BreathReason.BETWEEN)
    quick = Lungs(breath_seconds=0.4)
    taken = account("4d:40 4d:1 4d:4", lungs=quick, breaths=(mark,))
    assert taken.ends == pytest.approx([4.0, 4.05, 4.05 - 1.0 + 0.4])


def test_a_breath_before_a_rest_is_taken_in_the_rest() -> None:
    mark = BreathMark("n1", 1, BreathReason.BETWEEN)
    taken = account("4d:40 z:1 4d:1", breaths=(mark,))
    # Half a second of rest: a quarter at 4 l, a quarter at 1.5 l; the note is whole.
    assert taken.ends == pytest.approx([4.0, 4.0 - 1.0 - 0.375 + 0.1])


def test_a_dropped_note_is_silent_and_all_of_it_is_there_for_the_breath() -> None:
    mark = BreathMark("n2", 1, BreathReason.DROPPED_NOTE)
    taken = account("4d:40 4d:1 4d:4", breaths=(mark,))
    assert taken.ends == pytest.approx([4.0, 4.0, 4.0 - 1.0 - 0.375 + 0.4])


def test_a_mark_is_taken_each_time_that_its_note_is_played() -> None:
    mark = BreathMark("n1", 1, BreathReason.BETWEEN)
    assert len(account("|: 4d:8 4b:8 :|", breaths=(mark,)).taken) == 2


def test_half_the_speed_takes_twice_the_air() -> None:
    slow, fast = account("4d:4 5b:4 4b:3", speed=0.5), account("4d:4 5b:4 4b:3")
    assert slow.ends == pytest.approx([2 * end for end in fast.ends])
    assert slow.seconds == pytest.approx(2 * fast.seconds)


def test_where_the_lungs_are_full_is_told_by_the_first_note() -> None:
    # 1.6 l are reached after 8 s, 16 quavers: the third note ends at 1.8 l.
    full = account("4d:8 4d:8 4d:2 4d:2 4b:8 4d:1")
    (passing,) = full.passings
    assert (passing.note_id, passing.full, passing.notes) == ("n3", True, 2)
    assert passing.litres == pytest.approx(2.0)
    assert passing.seconds == pytest.approx(9.0)
    empty = account("4b:8 4b:8 4b:2")
    assert [p.full for p in empty.passings] == [False]


def test_the_share_outside_comfort_is_a_share_of_time() -> None:
    # Straight up to 2 l in 10 s, then back to 1 l: above 1 l from 5 s to 15 s of 15 s.
    assert account("4d:20 4b:10").outside == pytest.approx(10 / 15)


def test_the_account_goes_by_the_clock_of_the_sound() -> None:
    assert airline.FERMATA_HOLD == sound_clock.FERMATA_HOLD


@st.composite
def _split(draw: st.DrawFn) -> tuple[str, str]:
    """The same line twice: once whole, once with notes split by ties."""
    whole, tied = [], []
    for _ in range(draw(st.integers(1, 8))):
        hole = draw(st.sampled_from(["2d", "4b", "4d", "4d'", "6b", "8d", "9b", "z"]))
        parts = draw(st.lists(st.integers(1, 6), min_size=1, max_size=4))
        if hole == "z":
            parts = parts[:1]
        whole.append(f"{hole}:{sum(parts)}")
        tied += [f"{hole}-:{n}" for n in parts[:-1]] + [f"{hole}:{parts[-1]}"]
    return " ".join(whole), " ".join(tied)


@given(_split(), st.sampled_from([0.55, 1.0, 1.3]), st.data())
def test_ties_make_no_difference(pair: tuple[str, str], speed: float, data: st.DataObject) -> None:
    one, two = (lungs_of(by_hand(text, make_harp("C"))) for text in pair)
    sounds = [airline.make_airline(each).sounds for each in (one, two)]
    assert len(sounds[0]) == len(sounds[1])
    marked = data.draw(st.sets(st.integers(0, max(len(sounds[0]) - 1, 0))))
    marks = [
        [BreathMark(line[k].last_id, 1, BreathReason.BETWEEN) for k in marked if k < len(line)]
        for line in sounds
    ]
    accounts = [breath_account(a, speed, m) for a, m in zip((one, two), marks, strict=True)]
    assert accounts[0].ends == pytest.approx(accounts[1].ends)
    assert accounts[0].outside == pytest.approx(accounts[1].outside)
    assert [tuple(m) for m in accounts[0].moments] == [
        pytest.approx(tuple(m)) for m in accounts[1].moments
    ]


def test_a_tie_over_a_repeat_counts_as_one_note() -> None:
    held = account("|: 4d-:4 :| 4d:4")
    assert held.ends == pytest.approx([1.2])  # 2 s, 2 s again, and 2 s


def of_abc(text: str, harp: str = "C", tempo: float = 60.0) -> BreathAccount:
    tune = read_abc(f"X:1\nT:Test\nM:4/4\nL:1/4\nQ:1/4=60\nK:C\n{text}\n")[0]
    assert isinstance(tune, Tune)
    plain = {way.midi: way for way in make_harp(harp).soundings[::-1] if not way.bend}
    soundings = {note.id: plain[note.pitch.midi] for bar in tune.bars for note in bar.notes}
    player = Profile("test", "For tests")
    harp_made = make_harp(harp)
    return breath_account(
        Arrangement(tune, harp_made, player, soundings, (), 0.0, {}, quarters_per_minute=tempo)
    )


def test_loudness_holds_on_from_where_it_stands() -> None:
    # One second each: mf, p (two steps down), p, f (one step up) of 5 draw.
    account_of_it = of_abc("f !p!f .f !f!f|")
    soft, loud = 0.2 / 1.2**2, 0.2 * 1.2
    steps = [b - a for a, b in pairwise([0.0, *account_of_it.ends])]
    assert steps == pytest.approx([0.2, soft, soft, loud])


def test_a_repeat_goes_back_to_the_loudness_of_the_page() -> None:
    account_of_it = of_abc("|: f !f!f :|")
    steps = [b - a for a, b in pairwise([0.0, *account_of_it.ends])]
    assert steps == pytest.approx([0.2, 0.24, 0.2, 0.24])


def test_a_change_of_tempo_changes_the_seconds() -> None:
    # A second, then half a second: and twice as fast all through at 120.
    assert of_abc("f [Q:1/4=120] f|").ends == pytest.approx([0.2, 0.3])
    assert of_abc("f [Q:1/4=120] f|", tempo=120.0).ends == pytest.approx([0.1, 0.15])


def test_a_fermata_is_held() -> None:
    assert of_abc("f !fermata!f f|").ends == pytest.approx([0.2, 0.2 + 0.35, 0.75])


def test_the_length_of_the_tune_is_the_last_moment() -> None:
    tune = account("4d:3 z:2 4b:1 z:2")
    assert tune.moments[-1].quarters == pytest.approx(float(Fraction(8, 2)))
    assert tune.moments[-1].seconds == pytest.approx(tune.seconds)
