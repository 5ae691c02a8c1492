"""Half-valved against unvalved for a tune: hand-worked shares, what is gained and what is lost."""

from __future__ import annotations

from pathlib import Path

import pytest
from handmade_arrangements import by_hand

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tab.expression import (
    Shares,
    compare_valves,
    expression_remarks,
    expression_shares,
    valves_report,
    valves_text,
)
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes

TUNES = Path(__file__).parents[2] / "examples" / "tunes.abc"
PLAYER = load_profile("player")
EVERY = load_profile("all-techniques")


def tune_of(body: str, tempo: int = 60, key: str = "C") -> Tune:
    (tune,) = read_abc(f"X:1\nT:Made\nM:4/4\nL:1/4\nQ:1/4={tempo}\nK:{key}\n{body}\n")
    assert isinstance(tune, Tune)
    return tune


# Blow 4 (breathy), draw 4 (bends), blow 5 (breathy), draw 5 (nothing): C5 D5 E5 F5 on a C harp.
FOUR = "c d e f|]"


def test_shares_of_a_bar_worked_out_by_hand() -> None:
    found = compare_valves(tune_of(FOUR), make_harp("C"), PLAYER)
    assert found.bare_shares == Shares(bends=0.25, vibrato=0.25, breathy=0.5)
    # Half-valved the two blow notes bend too; draw 5 lies a semitone above blow 5 and still
    # does not.
    assert found.valved_shares == Shares(bends=0.75, vibrato=0.75, breathy=0.0)
    assert found.seconds == pytest.approx(4.0)
    assert [row.gains for row in found.rows] == [
        ("bends", "vibrato", "purer tone"),
        (),
        ("bends", "vibrato", "purer tone"),
        (),
    ]
    assert [row.seconds for row in found.rows] == [1.0, 1.0, 1.0, 1.0]


def test_time_counts_not_notes_and_repeats_count_as_played() -> None:
    found = compare_valves(tune_of("|:c3 d:|e4|]"), make_harp("C"), PLAYER)
    assert found.bare_shares.vibrato == pytest.approx(2 / 12)
    assert found.bare_shares.breathy == pytest.approx(10 / 12)


def test_valves_take_an_overblow_and_say_so() -> None:
    # E flat 5 on a C harp is overblow 4 without valves, blow 5 bent alone with them.
    found = compare_valves(tune_of("c _e c2|]"), make_harp("C"), EVERY)
    row = next(row for row in found.rows if row.pitch in ("Eb5", "D#5"))
    assert row.bare is not None and row.bare.technique.value == "overblow"
    assert row.valved is not None and row.valved.technique.value == "valved bend"
    assert "must be taken another way" in valves_text(found)
    # B flat 5 is overblow 6; with the blow reeds valved and draw 7 not, nothing sounds it.
    lost = compare_valves(tune_of("_b4|]"), make_harp("C", valves="blow 1-6"), EVERY)
    assert lost.bare.complete and not lost.valved.complete
    assert "They cost 1 note that only an overblow or overdraw gives." in " ".join(
        valves_text(lost).split()
    )


def test_valves_give_a_note_that_the_player_lacks_without_them() -> None:
    # E flat 5 is an overblow, which this player has not, or blow 5 bent alone.
    found = compare_valves(tune_of("_e4|]"), make_harp("C"), PLAYER)
    assert not found.bare.complete and found.valved.complete
    assert found.rows[0].gains == ("the note",)
    assert "They give 1 note that the harp lacks" in valves_text(found)


def test_effort_before_and_after_is_the_arrangers() -> None:
    tune = tune_of(FOUR)
    found = compare_valves(tune, make_harp("C"), PLAYER)
    assert found.bare.effort == arrange(tune, make_harp("C"), PLAYER).effort
    assert found.valved.effort == arrange(tune, make_harp("C", valves="half"), PLAYER).effort


def test_a_harps_own_valves_are_the_ones_compared() -> None:
    harp = make_harp("C", valves="blow 4")
    found = compare_valves(tune_of(FOUR), harp, PLAYER)
    assert found.bare.harp.isolated == frozenset()
    assert found.valved.harp.isolated == harp.isolated
    assert found.valved_shares == Shares(0.5, 0.5, 0.25)


def test_slow_tunes_are_told_and_quick_ones_have_no_remark() -> None:
    slow = compare_valves(tune_of(FOUR, tempo=60), make_harp("C"), PLAYER)
    quick = compare_valves(tune_of(FOUR, tempo=240), make_harp("C"), PLAYER)
    assert slow.slow and not quick.slow
    assert "It is a slow tune" in valves_text(slow)
    assert "no held notes" in valves_text(quick)
    assert expression_remarks(quick.bare) == []


def test_remark_names_the_held_notes_and_what_half_valving_would_bring() -> None:
    (remark,) = expression_remarks(arrange(tune_of(FOUR), make_harp("C"), PLAYER))
    assert remark.topic == "expression"
    assert remark.text == (
        "Of the held notes 4 draw takes vibrato; 4 blow, 5 blow and 5 draw stay straight, to be "
        "shaped with loudness. In a slow tune that matters: half-valved, this harp would take it "
        "for 75 per cent of the playing time instead of 25."
    )
    assert remark.bars == (1,)
    half = make_harp("C", valves="half")
    (remark,) = expression_remarks(arrange(tune_of(FOUR), half, PLAYER))
    assert "half-valved" not in remark.text
    (remark,) = expression_remarks(arrange(tune_of("d d d d|]"), half, PLAYER))
    assert remark.text == "Every held note takes vibrato: let it come from the throat."


def test_a_remark_has_at_most_two_sentences_over_the_demo_tunes() -> None:
    for tune in read_tunes(TUNES):
        assert isinstance(tune, Tune)
        for harp in (make_harp("G"), make_harp("D", valves="half"), make_harp("C", "solo")):
            for remark in expression_remarks(arrange(tune, harp, PLAYER)):
                assert remark.text.count(". ") <= 1
                assert remark.text.endswith(".")


def test_bends_taken_count_as_vibrato_but_only_bend_on_where_some_is_left() -> None:
    # Draw 3 bent three times (A flat) and draw 4 bent once (D flat): at their deepest.
    arrangement = by_hand("3d''':8 4d':8 3d':8", "C")
    assert expression_shares(arrangement) == Shares(pytest.approx(1 / 3), 1.0, 0.0)


def test_report_holds_both_harps_and_every_note() -> None:
    report = valves_report(compare_valves(tune_of(FOUR), make_harp("C"), PLAYER))
    assert report["harps"]["without_valves"]["name"] == "C harp"
    assert report["harps"]["with_valves"]["name"] == "C harp, half-valved"
    assert [note["pitch"] for note in report["notes"]] == ["C5", "D5", "E5", "F5"]
    assert report["notes"][0]["without_valves"]["breathy"] is True
    assert report["notes"][0]["with_valves"]["bends_by"] == "valved bend"


def test_an_empty_tune_is_compared_without_fuss() -> None:
    found = compare_valves(tune_of(FOUR), make_harp("C"), PLAYER, voice=1)  # not there
    assert found.rows == ()
    assert found.bare_shares == Shares(0.0, 0.0, 0.0)
    assert valves_text(found)
    assert expression_remarks(found.bare) == []
