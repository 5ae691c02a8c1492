"""Harps owned, and the next best: buy this one, or retune that one."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import pytest
from played_effort import random_tune, tied_groups

from reedwright.errors import ReedwrightError
from reedwright.harp.cautions import SHORT_CAUTION
from reedwright.harp.making import made_harps, make_harp, parse_harp
from reedwright.harp.model import Breath, Harp, Reed
from reedwright.harp.naming import KEYS
from reedwright.harp.tunings import all_tunings
from reedwright.player.classes import class_profile
from reedwright.player.loading import load_profile
from reedwright.player.profile import Profile
from reedwright.tab.arrange import arrange
from reedwright.tab.owned.harps import (
    EACH_REED,
    LEAST_GAIN,
    MOST_REEDS,
    MOST_SEMITONES,
    NextBest,
    OwnedHarpError,
    changed_harps,
    next_best,
    owned_by,
    owned_from,
    retunings,
)
from reedwright.tab.owned.words import add_next_best, next_best_report, next_best_text
from reedwright.tab.ranking import RankedHarp, best_harp, rank_harps
from reedwright.tab.report import ranking_report
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

BOOK = Path(__file__).parents[2] / "examples" / "tunes.abc"
PLAYER = load_profile("player")


@pytest.fixture(scope="module")
def tunes() -> list[Tune]:
    found = read_abc(BOOK.read_text(encoding="utf-8"))
    return [tune for tune in found if isinstance(tune, Tune)]


def test_the_harps_of_a_profile_are_read() -> None:
    owner = Profile("anna", "Anna", harps=("C", "D low", "low D", "G:richter-raised-3-blow:half"))
    assert owned_by(owner) == (
        make_harp("C"),
        make_harp("D", register="low"),
        make_harp("G", "richter-raised-3-blow", valves="half"),
    )
    assert owned_by(Profile("ben", "Ben")) is None


@pytest.mark.parametrize(
    ("harp", "said"), [("H", "'H' is not a key"), ("C:no", "no tuning named 'no'"), ("C:::", "col")]
)
def test_a_harp_that_cannot_be_read_is_told_with_the_profile(harp: str, said: str) -> None:
    with pytest.raises(OwnedHarpError) as caught:
        owned_by(Profile("anna", "Anna", harps=("C", harp)))
    assert f"the profile 'anna' lists the harp '{harp}': " in str(caught.value)
    assert said in str(caught.value)


def test_a_list_of_harps_as_it_is_typed() -> None:
    assert [text for text, _ in owned_from("C, low  D; C:richter, G::half")] == [
        "C",
        "low D",
        "G::half",
    ]
    ((text, harp),) = owned_from("C:richter:blow 1-6, draw 7 8")
    assert text == "C:richter:blow 1-6, draw 7 8"
    assert Reed(8, Breath.DRAW) in harp.isolated
    for wrong in ("", " , ", "C, H"):
        with pytest.raises(ReedwrightError):
            owned_from(wrong)


def test_harps_are_added_once_and_dropped_however_they_are_written() -> None:
    have = ("C", "Db", "low D")
    assert changed_harps(have, ["C:richter", "A, G"]) == ("C", "Db", "low D", "A", "G")
    assert changed_harps(have, (), ["D low", "C#"]) == ("C",)
    with pytest.raises(OwnedHarpError, match=r"no 'F' among the harps listed \(C, Db, low D\)"):
        changed_harps(have, (), ["F"])


def test_raising_3_blow_of_a_g_harp_is_one_reed_up_a_whole_tone() -> None:
    """In G from D to E, as in C from G to A (common practice, docs/harps.md)."""
    g = make_harp("G")
    owned, reeds = retunings([g])[make_harp("G", "richter-raised-3-blow")]
    assert owned == g
    assert [(each.reed, each.from_midi, each.to_midi, each.semitones) for each in reeds] == [
        (Reed(3, Breath.BLOW), 62, 64, 2)
    ]


def test_a_harp_is_named_as_the_trade_names_its_new_tuning(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Some tunings are named by second position, as natural minor is (from memory)."""
    (tmp_path / "flat-seventh.toml").write_text(
        'title = "flat seventh"\nblow = "C4 E4 G4 C5 E5 G5 C6 E6 G6 C7"\n'
        'draw = "D4 G4 Bb4 D5 F5 A5 Bb5 D6 F6 A6"\nhome = "C"\nlabel = "G"\n'
    )
    monkeypatch.setenv("REEDWRIGHT_TUNINGS", str(tmp_path))
    harps = [each for each in retunings([make_harp("D")]) if each.tuning.name == "flat-seventh"]
    assert harps == [make_harp("A", "flat-seventh")] and harps[0].transpose == 2


def test_natural_minor_takes_five_reeds_and_so_is_no_small_retuning() -> None:
    """E to E flat three times, B to B flat twice (docs/harps.md)."""
    assert "natural-minor" not in {made.tuning.name for made in retunings([make_harp("C")])}


def test_every_small_retuning_of_every_harp_gives_the_very_reeds_of_its_tuning() -> None:
    seen = 0
    for harp in made_harps(all_tunings().values()):
        for made, (owned, reeds) in retunings([harp]).items():
            seen += 1
            new = {each.reed: each.to_midi for each in reeds}
            assert owned == harp and 1 <= len(reeds) <= MOST_REEDS
            assert all(1 <= abs(each.semitones) <= MOST_SEMITONES for each in reeds)
            for hole in range(1, harp.tuning.holes + 1):
                for breath in Breath:
                    now = harp.reed_midi(hole, breath)
                    assert made.reed_midi(hole, breath) == new.get(Reed(hole, breath), now)
            assert (made.register, made.a4) == (harp.register, harp.a4)
            # Named as the trade would name it: made anew by that name it is the same harp.
            assert make_harp(made.key, made.tuning, made.register) == replace(
                made, isolated=make_harp(made.key, made.tuning).isolated
            )
    assert seen > 400


def test_valves_stay_where_they_are_and_slide_harps_are_left_alone() -> None:
    half = make_harp("C", valves="half")
    assert all(made.isolated == half.isolated for made in retunings([half]))
    assert retunings([make_harp("C", "slide-solo-12")]) == {}


def test_what_is_owned_already_is_not_made_anew_and_the_nearest_harp_is_retuned() -> None:
    owned = [make_harp("G"), make_harp("G", "richter-raised-3-blow")]
    made = retunings(owned)
    assert not set(made) & set(owned)
    both = make_harp("G", "richter-raised-3-blow-5-draw")
    assert made[both][0] == owned[1] and len(made[both][1]) == 1


def test_a_g_harp_for_a_g_reel_is_retuned_by_raising_3_blow(tunes: list[Tune]) -> None:
    """Common practice for Irish and Scottish tunes in first position, no source."""
    found = next_best(tunes[0], load_profile("first-year"), [make_harp("G")])
    assert found is not None and found.retune is not None and found.buy is not None
    assert found.retune.ranked.harp == make_harp("G", "richter-raised-3-blow")
    assert found.buy.ranked.harp == make_harp("G", "richter-raised-3-blow")
    assert found.now.missing == 2 and found.retune.ranked.missing == 0
    text = next_best_text(found)
    assert "no notes missing instead of 2" in text
    assert "hole 3 blow from D4 up to E4, 2 semitones" in text
    report = next_best_report(tunes[0], found)
    assert report["retune"]["reeds"] == [
        {"hole": 3, "breath": "blow", "from": "D4", "to": "E4", "semitones": 2}
    ]
    assert report["retune"]["owned"] == "G harp" and report["retune"]["caution"] == SHORT_CAUTION
    assert report["buy"]["harp"]["tuning"] == "richter-raised-3-blow"


def test_the_caution_names_what_is_dangerous() -> None:
    for word in ("dust", "sharp edges", "lead", "eye protection", "technician", "rules"):
        assert word in SHORT_CAUTION


def test_nothing_is_offered_that_is_not_really_easier(tunes: list[Tune]) -> None:
    everything = made_harps(all_tunings().values())
    for tune in tunes[:3]:
        best = best_harp(tune, PLAYER)
        assert best is not None
        assert next_best(tune, PLAYER, everything) is None
        assert next_best(tune, PLAYER, [best.harp]) is None
    assert next_best(tunes[0], PLAYER, []) is None
    assert "No harp to buy" in next_best_text(None)
    assert next_best_report(tunes[0], None) == {"buy": None, "retune": None}


def really_easier(offer: RankedHarp, now: RankedHarp) -> bool:
    if offer.missing < now.missing:
        return 2 * offer.missing <= now.missing
    return (
        offer.missing == now.missing and offer.effort_per_note <= now.effort_per_note - LEAST_GAIN
    )


def test_what_is_offered_is_the_best_by_the_arrangers_own_efforts(tunes: list[Tune]) -> None:
    """Against every small retuning tried one by one with `arrange`."""
    rng = random.Random(3)
    offered = {"buy": 0, "retune": 0}
    for tune in [tunes[0], tunes[4], *(random_tune(rng, 6, repeats=True) for _ in range(4))]:
        owned = [make_harp(key) for key in rng.sample(KEYS, 2)]
        found = next_best(tune, PLAYER, owned)
        if found is None:
            found = NextBest(best_harp(tune, PLAYER, owned), None, None)
        efforts = {}
        for harp, (_, reeds) in retunings(owned).items():
            for octaves in (-1, 0, 1):
                tab = arrange(tune, harp, PLAYER, octaves=octaves)
                gone = {each.id for each in tab.missing}
                lacking = sum(bool(gone & set(tied)) for tied in tied_groups(tab.plain))
                efforts[harp, octaves] = (lacking, tab.effort_per_note, len(reeds))
        least = min(missing for missing, _, _ in efforts.values())
        if found.retune is not None:
            offered["retune"] += 1
            ranked = found.retune.ranked
            missing, effort, reeds = efforts[ranked.harp, ranked.octaves]
            assert (ranked.missing, len(found.retune.reeds)) == (missing, reeds)
            assert ranked.effort_per_note == pytest.approx(effort)
            assert missing == least, "no other retuning misses fewer notes"
            assert really_easier(ranked, found.now)
            become = retunings(owned)
            scores = {
                (each.harp, each.octaves): each.effort_per_note
                + each.preference
                + EACH_REED * len(become[each.harp][1])
                for each in rank_harps(tune, PLAYER, tuple(become))
                if each.missing == least
            }
            assert scores[ranked.harp, ranked.octaves] == min(scores.values())
        if found.buy is not None:
            offered["buy"] += 1
            assert found.buy.ranked.harp not in owned
            assert really_easier(found.buy.ranked, found.now)
    assert min(offered.values()) >= 2


def test_each_reed_to_retune_must_be_worth_it() -> None:
    """A tune that never goes where the second reed is: the harp with one reed less is named."""
    (tune,) = read_abc(
        "X:1\nT:Sixths\nM:4/4\nL:1/8\nR:reel\nK:C\n"
        "|:CEGA ceac'|e'c'ag ecAG|CEGA cege'|e'g'c''2 c4:|\n"
    )
    assert isinstance(tune, Tune)  # three octaves, but no F: it never goes where draw 5 is
    found = next_best(tune, load_profile("first-year"), [make_harp("C")])
    assert found is not None and found.retune is not None
    assert found.retune.ranked.harp.tuning.name == "richter-raised-3-blow"


def test_a_harp_that_still_lacks_most_of_what_was_missing_is_no_help() -> None:
    rng = random.Random(8)
    first, passed_over = load_profile("first-year"), 0
    for _ in range(12):
        tune = random_tune(rng, 6, repeats=True)
        owned = [make_harp(rng.choice(KEYS))]
        now = best_harp(tune, first, owned)
        best = best_harp(tune, first, tuple(retunings(owned)))
        found = next_best(tune, first, owned)
        assert now is not None and best is not None
        if now.missing / 2 < best.missing < now.missing:
            passed_over += 1
            assert found is None or found.retune is None
    assert passed_over >= 2


def test_a_slide_harp_is_offered_only_to_those_who_own_one() -> None:
    (tune,) = read_abc("X:1\nT:T\nM:4/4\nL:1/8\nK:C\nC^CD^D c^fg^g a^ab^c' d'a'c''|\n")
    assert isinstance(tune, Tune)
    first = load_profile("first-year")
    best = best_harp(tune, first)
    assert best is not None and best.harp.tuning.slide
    plain = next_best(tune, first, [make_harp("F#")])
    assert plain is None or plain.buy is None or not plain.buy.ranked.harp.tuning.slide
    owned = [make_harp("F#"), make_harp("F#", "slide-solo-12", "low")]
    slid = next_best(tune, first, owned)
    assert slid is not None and slid.buy is not None and slid.buy.ranked.harp.tuning.slide


def test_the_report_says_it_at_the_best_harp_and_leaves_the_list_as_it_was(
    tunes: list[Tune],
) -> None:
    owned = [make_harp("G"), make_harp("C")]
    ranked = rank_harps(tunes[0], PLAYER, owned)
    report, before = ranking_report(tunes[0], ranked), ranking_report(tunes[0], ranked)
    add_next_best(report, tunes[0], next_best(tunes[0], PLAYER, owned))
    assert "next_best" in report["harps"][0]
    assert not any("next_best" in each for each in report["harps"][1:])
    del report["harps"][0]["next_best"]
    assert report == before


def everybody(rng: random.Random) -> list[Profile]:
    """Players who differ in what they can do and in what is hard for them."""
    shipped = [load_profile(name) for name in ("first-year", "player", "all-techniques")]
    weights = replace(
        PLAYER.weights,
        leap_hole=rng.uniform(0, 1),
        breath_change=rng.uniform(0, 2),
        after_rest=rng.uniform(0, 1),
        most_haste=rng.uniform(0, 4),
        draw_bend_1=rng.uniform(0, 5),
        bend_by_hole=tuple(rng.uniform(0.5, 2) for _ in range(10)),
        grace_lost=rng.uniform(0, 8),
    )
    return rng.sample([*shipped, replace(PLAYER, name="odd", weights=weights)], 3)


def test_no_tune_is_easier_for_a_class_than_for_any_of_its_members(tunes: list[Tune]) -> None:
    """On harps where the class misses no more: a missing note breaks the chain of moves."""
    rng = random.Random(11)
    harps: list[Harp] = [parse_harp(text) for text in ("C", "G:richter-raised-3-blow", "D::half")]
    compared = 0
    for tune in [*tunes[:3], *(random_tune(rng, 6, repeats=True) for _ in range(6))]:
        members = everybody(rng)
        group = class_profile(members, "class")
        ours = {(each.harp, each.octaves): each for each in rank_harps(tune, group, harps)}
        for member in members:
            for theirs in rank_harps(tune, member, harps):
                mine = ours[theirs.harp, theirs.octaves]
                assert mine.missing >= theirs.missing
                if mine.missing == theirs.missing:
                    compared += 1
                    assert mine.effort >= theirs.effort
    assert compared > 50
