"""The ranking: the same exact answers as the arranger's, and the order of common practice."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from played_effort import random_tune

from reedwright.harp.making import made_harps, make_harp
from reedwright.harp.model import Technique
from reedwright.harp.naming import KEYS
from reedwright.harp.tunings import all_tunings
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tab.best import arrange_on_best
from reedwright.tab.ranking import RankedHarp, best_harp, rank_harps
from reedwright.tab.report import ranking_text
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

BOOK = Path(__file__).parents[2] / "examples" / "tunes.abc"


@pytest.fixture(scope="module")
def tunes() -> list[Tune]:
    found = read_abc(BOOK.read_text(encoding="utf-8"))
    return [tune for tune in found if isinstance(tune, Tune)]


def agrees(ranked: RankedHarp, tune: Tune, player) -> None:
    found = arrange(tune, ranked.harp, player, octaves=ranked.octaves, semitones=ranked.semitones)
    notes = {note.id for note in found.plain.voices[0].notes}
    ways = [(id_, way) for id_, way in found.soundings.items() if id_ in notes]
    assert ranked.effort == found.effort
    assert ranked.effort_per_note == pytest.approx(found.effort_per_note)
    lost = [o for o in found.ornaments if o.outcome == "left out"]
    assert bool(lost) <= (ranked.lost_ornaments > 0)
    if not ranked.other_ornaments and not ranked.lost_ornaments:
        assert not any(o.outcome == "other notes" and o.written for o in found.ornaments)
    assert ranked.complete == found.complete
    over = (Technique.OVERBLOW, Technique.OVERDRAW)
    # The ranking counts tied notes once; what is sounded at all is the same.
    assert (ranked.overblows > 0) == any(way.technique in over for _, way in ways)
    assert (ranked.bends > 0) == any(way.bend > 0 for _, way in ways)
    holes = [way.hole for _, way in ways]
    assert (ranked.lowest_hole, ranked.highest_hole) == (
        min(holes, default=0),
        max(holes, default=0),
    )


@pytest.mark.no_cover
@pytest.mark.parametrize("player", ["first-year", "player", "all-techniques"])
def test_efforts_equal_those_of_arrange(player: str, tunes: list[Tune]) -> None:
    profile = load_profile(player)
    rng = random.Random(player)
    for tune in [*tunes[:3], *(random_tune(rng, 6, repeats=True) for _ in range(3))]:
        for ranked in rng.sample(rank_harps(tune, profile, any_key=True), 12):
            agrees(ranked, tune, profile)


def test_a_g_major_reel_lies_best_on_a_g_harp_with_raised_3_blow_in_first_position(
    tunes: list[Tune],
) -> None:
    # Common practice for Irish and Scottish tunes, no source.
    best = rank_harps(tunes[0], load_profile("player"))[0]
    assert best.harp.key == "G" and best.harp.register == "ordinary"
    assert best.harp.tuning.name == "richter-raised-3-blow"
    assert (best.position, best.bends, best.overblows, best.missing) == (1, 0, 0, 0)
    assert (best.octaves, best.semitones) == (0, 0)


def test_a_first_year_player_is_not_given_a_harp_that_needs_bends(tunes: list[Tune]) -> None:
    for tune in tunes:
        best = rank_harps(tune, load_profile("first-year"))[0]
        assert (best.bends, best.overblows) == (0, 0)


def test_complete_harps_come_first_then_fewer_missing_notes(tunes: list[Tune]) -> None:
    for tune in tunes:
        missing = [each.missing for each in rank_harps(tune, load_profile("player"))]
        assert missing == sorted(missing) and missing[0] < missing[-1]


def test_every_harp_at_every_octave_is_there_once(tunes: list[Tune]) -> None:
    ranked = rank_harps(tunes[1], load_profile("player"))
    made = made_harps(all_tunings().values())
    assert len(ranked) == 3 * len(made)
    assert {(each.harp, each.octaves) for each in ranked} == {
        (harp, octaves) for harp in made for octaves in (-1, 0, 1)
    }


def test_the_best_alone_is_the_first_of_the_ranking(tunes: list[Tune]) -> None:
    rng = random.Random(5)
    owned = [make_harp("C"), make_harp("D"), make_harp("A", "natural-minor")]
    for player in map(load_profile, ("first-year", "player")):
        for tune in [*tunes[:4], *(random_tune(rng, 5, repeats=True) for _ in range(3))]:
            assert best_harp(tune, player) == rank_harps(tune, player)[0]
            assert best_harp(tune, player, owned) == rank_harps(tune, player, owned)[0]


def test_a_tune_moved_to_another_key_says_so_on_the_best_harp_too(tunes: list[Tune]) -> None:
    found = arrange_on_best(tunes[0], load_profile("player"), semitones=2)
    assert (found.tune.key.name, found.semitones) == ("A major", 2)
    assert found.harp.key == "A"


def test_only_harps_that_are_owned(tunes: list[Tune]) -> None:
    owned = [make_harp("C"), make_harp("G", register="high")]
    ranked = rank_harps(tunes[0], load_profile("player"), harps=owned, octaves=(0,))
    assert {each.harp for each in ranked} == set(owned) and len(ranked) == 2
    assert rank_harps(tunes[0], load_profile("player"), harps=[]) == ()
    assert best_harp(tunes[0], load_profile("player"), harps=[]) is None


def test_moving_tune_and_harp_together_changes_nothing(tunes: list[Tune]) -> None:
    player = load_profile("player")
    c_harp = rank_harps(tunes[1], player, [make_harp("C")], octaves=(0,), any_key=True)
    d_harp = rank_harps(tunes[1], player, [make_harp("D")], octaves=(0,), any_key=True)
    by_move = {each.semitones: each.effort for each in d_harp}
    for each in c_harp:
        if each.semitones + 2 in by_move:
            assert by_move[each.semitones + 2] == each.effort


def test_the_reason_says_what_it_takes(tunes: list[Tune]) -> None:
    ranked = rank_harps(tunes[0], load_profile("player"))
    assert ranked[0].why == "first position, no bends, holes 2 to 8"
    missing = next(each for each in ranked if each.missing)
    assert missing.why.startswith(f"{missing.missing} notes missing, ")
    moved = next(each for each in ranked if each.octaves == -1 and each.missing)
    assert "the tune 1 octave down" in moved.why
    text = ranking_text(tunes[0], ranked[:3]).splitlines()
    assert text[0] == "The Reedmaker's Latch (G major)"
    assert text[3].startswith("1  G harp, raised 3 blow") and text[3].endswith("holes 2 to 8")


def test_a_slide_harp_is_first_only_where_it_is_owned_or_nothing_else_will_do() -> None:
    (tune,) = read_abc("X:1\nT:T\nM:4/4\nL:1/8\nK:C\nc^cd^d e^fg^g|\n")
    assert isinstance(tune, Tune)
    assert rank_harps(tune, load_profile("first-year"))[0].harp.tuning.slide == 1
    plain = read_abc("X:1\nT:T\nM:4/4\nL:1/8\nK:C\ncdef gabc'|\n")[0]
    assert isinstance(plain, Tune)
    assert rank_harps(plain, load_profile("first-year"))[0].harp.tuning.slide == 0


def test_positions_that_nobody_plays_stand_further_back() -> None:
    """Common practice, no source: first, then second, third and twelfth; sixth to tenth hardly."""
    tune = read_abc(BOOK.read_text(encoding="utf-8"))[0]
    assert isinstance(tune, Tune)  # in G
    by_position = {
        ranked.position: ranked.preference
        for ranked in rank_harps(
            tune, load_profile("player"), harps=[make_harp(key) for key in KEYS], octaves=(0,)
        )
    }
    assert set(by_position) == set(range(1, 13))
    assert by_position[1] < by_position[2] < by_position[3] == by_position[12]
    usual = max(by_position[position] for position in (1, 2, 3, 12, 4, 5, 11))
    assert all(by_position[position] > usual for position in range(6, 11))
