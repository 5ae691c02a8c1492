"""Signs of expression on the harp chart: told by shape, in their own cell, explained below."""

from __future__ import annotations

import re

import pytest

from reedwright.harp.expression import expression_of
from reedwright.harp.making import make_harp
from reedwright.harp.model import Harp, Technique
from reedwright.harp.tunings import all_tunings
from reedwright.page.harpchart import COUNT_SIZE, SIGN_WIDTH, chart_svg

_WAVE = re.compile(r'<path d="M([\d.]+) ([\d.]+)q')
_DOT = re.compile(r'<circle cx="([\d.]+)" cy="([\d.]+)"')
_RECT = re.compile(r'<rect x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="([\d.]+)" rx="3"')
_SIZE = re.compile(r'font-size="([\d.]+)"')


def reeds_with(harp: Harp, what: str) -> int:
    return sum(
        getattr(expression_of(harp, each), what)
        for each in harp.soundings
        if each.technique is Technique.NATURAL and not each.slide
    )


@pytest.mark.parametrize("tuning", sorted(all_tunings()))
@pytest.mark.parametrize("valves", ["none", "half", "full"])
def test_each_reed_has_its_sign_and_each_sign_its_line(tuning: str, valves: str) -> None:
    harp = make_harp("F#", tuning, valves=valves)
    svg = chart_svg(harp, expression=True)
    waves, breathy = reeds_with(harp, "vibrato"), reeds_with(harp, "breathy")
    assert len(_WAVE.findall(svg)) == waves + bool(waves)  # one more in the legend
    assert len(_DOT.findall(svg)) == 3 * (breathy + bool(breathy))
    assert ("takes vibrato" in svg) == bool(waves)
    assert (">breathy<" in svg) == bool(breathy)


def test_a_chart_has_no_such_signs_unless_asked() -> None:
    svg = chart_svg(make_harp("C"))
    assert not _WAVE.findall(svg) and not _DOT.findall(svg)
    assert "vibrato" not in svg
    bare = chart_svg(make_harp("C"), expression=True, legend=False)
    assert len(_WAVE.findall(bare)) == reeds_with(make_harp("C"), "vibrato")


def test_signs_lie_in_the_corner_of_a_cell_clear_of_a_count_of_three_figures() -> None:
    harp = make_harp("C")
    counts = {each: 888 for each in harp.soundings if each.technique is Technique.NATURAL}
    svg = chart_svg(harp, counts, expression=True, legend=False)
    cells = [tuple(map(float, found)) for found in _RECT.findall(svg)]
    ends = [(float(x), float(x) + SIGN_WIDTH, float(y)) for x, y in _WAVE.findall(svg)]
    ends += [(float(x) - 1.2, float(x) + 1.2, float(y)) for x, y in _DOT.findall(svg)]
    assert ends
    for left, right, y in ends:
        (cell,) = (
            (x, top, width, height)
            for x, top, width, height in cells
            if x <= left <= x + width and top <= y - 3 and y + 3 <= top + height
        )
        # Figures are half an em wide; the count stands in the middle.
        count_left = cell[0] + cell[2] / 2 - 3 * COUNT_SIZE / 2 / 2
        assert right <= count_left


def test_type_is_no_smaller_for_the_signs() -> None:
    """The smallest type of the chart stays the smallest (a lesson page keeps it readable)."""
    harp = make_harp("Bb", valves="half")
    plain = min(map(float, _SIZE.findall(chart_svg(harp))))
    assert min(map(float, _SIZE.findall(chart_svg(harp, expression=True)))) == plain


def test_the_description_tells_the_same_in_words() -> None:
    svg = chart_svg(make_harp("C"), expression=True)
    assert "Vibrato: 1 draw, 2 draw, 3 draw, 4 draw, 6 draw, 8 blow, 9 blow, 10 blow." in svg
    assert "Breathy: 1 blow, 2 blow, 3 blow, 4 blow, 5 blow, 6 blow, 7 draw" in svg
