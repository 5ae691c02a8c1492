"""The tab is what a good player would choose (common practice of players, no source)."""

from __future__ import annotations

import pytest

from reedwright.harp.making import make_harp
from reedwright.harp.model import Technique
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tab.notation import tab_sign
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune


def tab(body: str, harp="C", tuning="richter", player="player", key="C", header="", **made) -> str:
    """The tab as words: `4b 4d 3d'`."""
    text = f"X:1\nT:T\n{header or 'M:4/4' + chr(10) + 'L:1/8' + chr(10)}K:{key}\n{body}\n"
    (tune,) = read_abc(text)
    assert isinstance(tune, Tune), tune
    found = arrange(tune, make_harp(harp, tuning, **made), load_profile(player))
    signs = []
    for bar in found.tune.bars:
        for note in bar.notes:
            way = found.soundings.get(note.id)
            if way is None:
                signs.append("x")
                continue
            sign = tab_sign(way, "rows")
            signs.append(sign.replace(str(way.hole), f"{way.hole}{way.breath.value[0]}", 1))
    return " ".join(signs)


@pytest.mark.parametrize("player", ["first-year", "player", "all-techniques"])
def test_c_major_scale_in_the_middle_octave(player: str) -> None:
    assert tab("cdef gabc'|", player=player) == "4b 4d 5b 5d 6b 6d 7d 7b"
    assert tab("c'bag fedc|", player=player) == "7b 7d 6d 6b 5d 5b 4d 4b"


def test_g_blues_scale_in_second_position() -> None:
    assert tab("G^Ac^c dfg2|") == "2d 3d' 4b 4d' 4d 5d 6b"
    # Two semitones below the draw reed of hole 2 lies F, and a whole tone of hole 3 is A.
    assert tab("GFGB, G2|").split()[1] == "2d''"


def test_d_dorian_scale_in_third_position() -> None:
    assert tab("defg abc'd'|", key="Ddor") == "4d 5b 5d 6b 6d 7d 7b 8d"


def test_the_low_g_is_blown_among_blow_notes_and_drawn_among_draw_notes() -> None:
    # The chord of C lies in blow 1 to 4, that of G in draw 1 to 4.
    assert tab("CEGc GEC2|") == "1b 2b 3b 4b 3b 2b 1b"
    assert tab("DGBd BGD2|") == "1d 2d 3d 4d 3d 2d 1d"


def test_a_long_drone_on_one_note_stays_in_one_hole() -> None:
    assert len(set(tab("GGGG GGGG|").split())) == 1


def test_a_bend_is_not_used_where_a_plain_note_will_do() -> None:
    for body in ("GABc dBGA|", "G2B2 d2g2|", "cBAG FGAB|"):
        for sign in tab(body, harp="G", tuning="richter-raised-3-blow", key="G").split():
            assert "'" not in sign


def test_first_year_player_has_no_bends_and_the_note_is_named_with_what_helps() -> None:
    (tune,) = read_abc("X:1\nT:T\nM:4/4\nL:1/8\nK:C\nGABc|\n")
    found = arrange(tune, make_harp("C"), load_profile("first-year"))
    (missing,) = found.missing
    assert (missing.pitch, missing.bar, missing.beat) == ("A4", 1, 1.5)
    # All of it is true: hole 3 draw bent a whole tone is A4; raised 3 blow is A4; and so on.
    assert "draw bend" in missing.advice and "hole 3 draw by 2 semitones" in missing.advice
    assert "1 octave higher the tune has every note" in missing.advice
    assert "raised 3 blow has every note" in missing.advice
    assert not found.complete


def test_valved_bends_only_where_the_harp_has_valves() -> None:
    # E flat 5 on a C harp: hole 5 blow is E5, and a half-valved harp bends it down alone.
    assert tab("_e4 z4|") == "x"
    assert tab("_e4 z4|", valves="half") == "5b'"
    assert tab("_e4 z4|", valves="half", player="first-year") == "x"


def test_the_overblow_only_for_who_has_it() -> None:
    assert tab("_e4 z4|", player="player") == "x"
    assert tab("_e4 z4|", player="all-techniques") == "4b°"


def test_a_raised_third_blow_takes_the_bends_out_of_a_g_major_reel(reel: Tune) -> None:
    player = load_profile("player")
    plain = arrange(reel, make_harp("G"), player)
    raised = arrange(reel, make_harp("G", "richter-raised-3-blow"), player)
    assert any(way.technique is Technique.BEND for way in plain.soundings.values())
    assert all(way.technique is Technique.NATURAL for way in raised.soundings.values())
    assert raised.effort < plain.effort


def test_a_cut_from_the_next_hole_is_taken_in_the_same_breath() -> None:
    # G4 is 2 draw and 3 blow; cut from B4 (3 draw) it is drawn, from C5 (4 blow) blown.
    (tune,) = read_abc("X:1\nT:T\nM:4/4\nL:1/8\nK:C\n{B}G4 z4|{c}G4 z4|\n")
    found = arrange(tune, make_harp("C"), load_profile("player"))
    first, second = (found.soundings[note.id] for bar in tune.bars for note in bar.notes)
    assert (first.hole, first.breath) == (2, "draw")
    assert (second.hole, second.breath) == (3, "blow")


def test_faster_is_harder() -> None:
    (tune,) = read_abc("X:1\nT:T\nM:4/4\nL:1/8\nK:C\nc^deg ^f2^c2|\n")
    harp, player = make_harp("C"), load_profile("all-techniques")
    efforts = [
        arrange(tune, harp, player, quarters_per_minute=tempo).effort for tempo in (40, 100, 200)
    ]
    assert efforts == sorted(set(efforts))


def test_a_leap_under_a_slur_costs_more_than_one_that_is_tongued() -> None:
    harp, player = make_harp("C"), load_profile("player")
    efforts = []
    for body in ("cg z6|", "(cg) z6|"):
        (tune,) = read_abc(f"X:1\nT:T\nM:4/4\nL:1/8\nK:C\n{body}\n")
        efforts.append(arrange(tune, harp, player).effort)
    assert efforts[1] - efforts[0] == round(player.weights.slur_skip * 1024) / 1024


@pytest.fixture
def reel() -> Tune:
    from pathlib import Path

    book = Path(__file__).parents[2] / "examples" / "tunes.abc"
    tune = read_abc(book.read_text(encoding="utf-8"))[0]
    assert isinstance(tune, Tune)
    return tune


def test_advice_is_true(reel: Tune) -> None:
    """What is said to have every note of the tune has it, tried on the harp that is named."""
    import re

    from reedwright.harp.making import parse_harp
    from reedwright.harp.tunings import all_tunings

    titles = {tuning.title: name for name, tuning in all_tunings().items()}
    player = load_profile("first-year")
    told = 0
    for key in ("C", "D", "A", "F"):
        found = arrange(reel, make_harp(key), player)
        for each in found.missing:
            named = re.search(
                r"An? (.+?) harp(?:, (.+?))? has every note of the tune"
                r"(?:, played 1 octave (higher|lower))?\.",
                each.advice,
            )
            if named:
                told += 1
                title, move = named[2], {"higher": 1, "lower": -1, None: 0}[named[3]]
                harp = parse_harp(named[1], tuning=titles[title] if title else None)
                assert not arrange(reel, harp, player, octaves=move).missing
    assert told
