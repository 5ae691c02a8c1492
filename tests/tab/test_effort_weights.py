"""Each weight costs what docs/effort.md says: worked out by hand from the formulas there."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

import pytest

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.player.profile import Weights, weight_meanings
from reedwright.tab.arrange import arrange
from reedwright.tune.abc import read_abc

DOC = Path(__file__).parents[2] / "docs" / "effort.md"
SLOW = 60.0  # crotchets a minute: a quaver lasts 0.5 s, which is comfortable
W = Weights()


def parts(
    body: str, tempo: float = SLOW, player: str = "all-techniques", **made
) -> dict[str, float]:
    (tune,) = read_abc(f"X:1\nT:T\nM:none\nL:1/8\nK:C\n{body}\n")
    harp = make_harp("C", **made)
    from dataclasses import replace

    profile = replace(load_profile(player), weights=W)
    return dict(arrange(tune, harp, profile, quarters_per_minute=tempo).parts_of_effort)


def units(effort: float) -> float:
    return round(effort * 1024) / 1024


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ("c|", {}),  # 4 blow alone costs nothing
        ("cd|", {"breath_change": W.breath_change}),  # 4 blow, 4 draw
        ("ce|", {"neighbour": W.neighbour}),  # 4 blow, 5 blow
        ("de|", {"breath_change": W.breath_change, "step": W.step}),  # 4 draw, 5 blow
        ("cg|", {"leap": W.leap, "leap_hole": 2 * W.leap_hole}),  # 4 blow, 6 blow
        ("cc'|", {"leap": W.leap, "leap_hole": 3 * W.leap_hole}),  # 4 blow, 7 blow
        ("cc|", {"repeated_note": W.repeated_note}),
        ("(cd)|", {"breath_change": W.breath_change, "slur_breath": W.slur_breath}),
        (
            "(cg)|",
            {"leap": W.leap, "leap_hole": 2 * W.leap_hole, "slur_skip": W.slur_skip},
        ),
        ("czd|", {"breath_change": W.after_rest * W.breath_change}),
        ("D|", {"low_draw": W.low_draw}),  # 1 draw
        ("e'|", {"high_hole": W.high_hole}),  # 8 blow
        ("g'|", {"high_hole": 2 * W.high_hole}),  # 9 blow
        ("_d|", {"draw_bend_1": W.draw_bend_1 * W.bend_by_hole[3]}),  # 4 draw bent
        ("F|", {"draw_bend_2": W.draw_bend_2 * W.bend_by_hole[1]}),  # 2 draw bent a tone
        ("_A|", {"draw_bend_3": W.draw_bend_3 * W.bend_by_hole[2]}),  # 3 draw bent three
        ("_e'|", {"blow_bend_1": W.blow_bend_1 * W.bend_by_hole[7], "high_hole": W.high_hole}),
        ("_e|", {"overblow": W.overblow * W.over_by_hole[3]}),  # 4 overblow
        (
            "_d=d|",  # 4 draw bent, let up
            {"draw_bend_1": W.draw_bend_1 * W.bend_by_hole[3], "release": W.release},
        ),
        (
            "f_d|",  # 5 draw, 4 draw bent
            {
                "draw_bend_1": W.draw_bend_1 * W.bend_by_hole[3],
                "neighbour": W.neighbour,
                "bend_from_afar": W.bend_from_afar,
            },
        ),
        (
            "_B=A|",  # 3 draw bent one, then two
            {
                "draw_bend_1": W.draw_bend_1 * W.bend_by_hole[2],
                "draw_bend_2": W.draw_bend_2 * W.bend_by_hole[2],
                "bend_shift": W.bend_shift,
            },
        ),
    ],
)
def test_parts_by_hand_at_leisure(body: str, expected: dict[str, float]) -> None:
    assert parts(body) == {name: units(effort) for name, effort in expected.items()}


def test_valved_bend_and_missing_note() -> None:
    bent = parts("_e|", player="player", valves="half")
    assert bent == {"valved_bend": units(W.valved_bend * W.bend_by_hole[4])}
    assert parts("_e|", player="first-year") == {"missing_note": W.missing_note}


def test_slide_move() -> None:
    assert parts("c^c|", tuning="slide-solo-12", player="first-year")["slide_move"] == W.slide_move


def test_haste_by_hand() -> None:
    # At 240 crotchets a minute a quaver lasts 0.125 s: haste = 0.35 / 0.125 - 1 = 1.8.
    haste = 1.8
    assert parts("cd|", 240) == {"breath_change": units(1 + W.breath_haste * haste)}
    assert parts("cc|", 240) == {
        "repeated_note": units(W.repeated_note * (1 + W.repeat_haste * haste))
    }
    assert parts("cg|", 240) == {
        "leap": units(W.leap * (1 + W.leap_haste * haste)),
        "leap_hole": units(2 * W.leap_hole * (1 + W.leap_haste * haste)),
    }
    bend = W.draw_bend_1 * W.bend_by_hole[3] * (1 + W.short_note * haste)
    assert parts("_d|", 240) == {"draw_bend_1": units(bend)}
    # A thousand times as fast, haste stops growing.
    most = units(1 + W.breath_haste * W.most_haste)
    assert parts("cd|", 240_000) == {"breath_change": most}


def test_grace_notes_by_hand() -> None:
    # On a C harp: the holes beside 4 blow (C5) are 5 blow (E5) and 3 blow (G4).
    assert parts("{e}c|") == {"grace": units(W.grace)}
    assert parts("{g}c|") == {"grace": units(W.grace + W.grace_skip)}  # 6 blow, over hole 5
    # D5 is a draw note: 5 blow is two semitones off, 3 blow seven.
    other = W.grace + W.grace_other + 2 * W.grace_semitone
    assert parts("{d}c|") == {"grace_other": units(other)}
    # 4 draw bent a semitone is C#5, let go into D5.
    assert parts("{^c}d|") == {"grace": units(W.grace + W.grace_bend)}
    # Two grace notes: each for itself; the first may be the note's own pitch.
    assert parts("{ce}c|") == {"grace": 2 * units(W.grace)}
    # On a note of 0.125 s, haste 1.8.
    hasty = units(W.grace * (1 + W.grace_haste * 1.8))
    assert parts("{e}c|", 240)["grace"] == hasty


def test_every_weight_is_documented_with_its_default() -> None:
    text = DOC.read_text(encoding="utf-8")
    assert set(weight_meanings()) == {each.name for each in fields(Weights)}
    for each in fields(Weights):
        row = re.search(rf"^\| `{each.name}` \| ([^|]*) \|", text, re.MULTILINE)
        assert row, f"docs/effort.md lacks {each.name}"
        if not each.name.endswith("_by_hole"):
            assert float(row[1]) == each.default, each.name
