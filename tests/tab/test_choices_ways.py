"""Ways written as players say them are read, printed and found on the harp."""

from __future__ import annotations

import pytest

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Technique
from reedwright.tab.choices import ChoicesError, Way, parse_way, way_words
from reedwright.tab.notation import TabStyle, tab_sign
from reedwright.tab.words import short_words, sounding_words

BLOW, DRAW = Breath.BLOW, Breath.DRAW

HARPS = [
    make_harp("C"),
    make_harp("G", "richter-raised-3-blow", valves="half"),
    make_harp("A", "natural-minor"),
    make_harp("C", valves="full"),
    make_harp("C", "slide-solo-12"),
]


@pytest.mark.parametrize(
    ("text", "way"),
    [
        ("2 draw", Way(2, DRAW)),
        ("3 blow", Way(3, BLOW)),
        ("  10   Blow ", Way(10, BLOW)),
        ("ten blow", Way(10, BLOW)),
        ("hole 4 draw", Way(4, DRAW)),
        ("3 draw bent 1", Way(3, DRAW, 1)),
        ("3 draw bent a semitone", Way(3, DRAW, 1)),
        ("3 draw bent by a whole tone", Way(3, DRAW, 2)),
        ("3 draw bent two semitones", Way(3, DRAW, 2)),
        ("three draw bent three semitones", Way(3, DRAW, 3)),
        ("6 overblow", Way(6, BLOW, over=True)),
        ("7 overdraw", Way(7, DRAW, over=True)),
        ("5 blow with the slide", Way(5, BLOW, slide=True)),
        ("5 draw with slide in", Way(5, DRAW, slide=True)),
        ("2↓", Way(2, DRAW)),
        ("-2", Way(2, DRAW)),
        ("+4", Way(4, BLOW)),
        ("3↓''", Way(3, DRAW, 2)),
        ("6↑°", Way(6, BLOW, over=True)),
        ("-5<", Way(5, DRAW, slide=True)),
    ],
)
def test_a_way_is_read(text: str, way: Way) -> None:
    assert parse_way(text) == way


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "not a way"),
        ("2", "does not say blow or draw"),
        ("3'", "does not say blow or draw"),
        ("draw 2", "not a way"),
        ("2 suck", "not a way"),
        ("0 draw", "no hole 0"),
        ("99 draw", "no hole 99"),
        ("3 draw bent", "does not say how far"),
        ("3 draw bent far", "how far"),
        ("6 overblow bent 1", "both bent and an overblow"),
    ],
)
def test_a_way_that_cannot_be_says_what_to_write(text: str, says: str) -> None:
    with pytest.raises(ChoicesError, match=says):
        parse_way(text)


@pytest.mark.parametrize("harp", HARPS, ids=lambda harp: harp.name)
def test_every_way_of_a_harp_comes_back_from_its_words_and_signs(harp) -> None:
    for sounding in harp.soundings:
        way = Way.of(sounding)
        assert way.on(harp) == sounding
        for text in (
            way_words(way),
            short_words(sounding),
            sounding_words(sounding),
            tab_sign(sounding, TabStyle.ARROWS),
            tab_sign(sounding, TabStyle.SIGNS),
        ):
            assert parse_way(text) == way, text
        assert way_words(way) == short_words(sounding)


def test_a_bend_is_made_as_the_harp_makes_it() -> None:
    # Half-valved: the draw bend of hole 3 is of two reeds, the blow bend of one reed alone.
    harp = make_harp("C", valves="half")
    draw, blow = parse_way("3 draw bent 1").on(harp), parse_way("3 blow bent 1").on(harp)
    assert draw is not None and draw.technique is Technique.BEND
    assert blow is not None and blow.technique is Technique.VALVED_BEND
    assert parse_way("3 blow bent 1").on(make_harp("C")) is None
