"""The drawn breath account: what stands where, and that it can be read in black and white."""

import io
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from handmade_arrangements import by_hand
from PIL import Image

from reedwright.page.breathplot import PIXELS_PER_MM, breath_alt, breath_svg
from reedwright.page.raster import svg_to_png
from reedwright.player.lungs import Lungs
from reedwright.player.profile import Profile
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath.model import BreathReason
from reedwright.tab.breath.plan import BreathPlan, plan_breaths, practice_breaths

SVG = "{http://www.w3.org/2000/svg}"


def tune(text: str) -> Arrangement:
    player = Profile("test", "For tests", lungs=Lungs())
    return replace(by_hand(text), player=player, quarters_per_minute=60.0)


# Eight seconds of draw a line, 1.6 litres: three lines need breaths.
DRAWN = tune("4d:8 | 4d:8 | 5d:8 | 4d:8 | 4d:8 | 5d:8")


def without_breaths(arrangement: Arrangement) -> BreathPlan:
    plan = plan_breaths(arrangement)
    return BreathPlan((), plan.without, plan.without)


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in ET.fromstring(svg).iter(f"{SVG}text")]


def inked(svg: str) -> "np.ndarray":
    image = Image.open(io.BytesIO(svg_to_png(svg, 96))).convert("L")
    return np.asarray(image) < 90


def test_each_breath_taken_has_one_comma() -> None:
    plan = plan_breaths(DRAWN)
    assert plan.marks and not plan.trouble
    svg = breath_svg(DRAWN, [plan], legend=False)
    assert svg.count('class="breath"') == len(plan.account.taken)
    repeated = tune("|: 4d:8 | 4d:8 | 5d:8 :|")
    plan = plan_breaths(repeated)
    assert len(plan.account.taken) > len(plan.marks)
    svg = breath_svg(repeated, [plan], legend=False)
    assert svg.count('class="breath"') == len(plan.account.taken)


def test_the_line_begins_in_the_middle_and_ends_at_the_last_level() -> None:
    plan = plan_breaths(tune("4d:8 | 4b:8 | 4d:4"))
    svg = breath_svg(tune("4d:8 | 4b:8 | 4d:4"), [plan])
    root = ET.fromstring(svg)
    band = next(r for r in root.iter(f"{SVG}rect"))
    middle = float(band.get("y", 0)) + float(band.get("height", 0)) / 2
    litre = float(band.get("height", 0)) / 2  # one litre is comfortable
    line = next(p for p in root.iter(f"{SVG}path") if p.get("stroke-linejoin"))
    numbers = [float(n) for n in re.findall(r"-?[\d.]+", line.get("d", ""))]
    ys = numbers[1::2]
    assert ys[0] == pytest.approx(middle, abs=0.02)
    assert min(ys) == pytest.approx(middle - 0.8 * litre, abs=0.02)  # 4 s of draw: 0.8 l
    assert ys[-1] == pytest.approx(middle - 0.4 * litre, abs=0.02)
    left, right = float(band.get("x", 0)), float(band.get("width", 0))
    assert numbers[0] == pytest.approx(left, abs=0.02)
    assert numbers[-2] == pytest.approx(left + right, abs=0.02)


def test_what_is_beyond_the_limit_is_black_and_only_then() -> None:
    trouble = breath_svg(DRAWN, [without_breaths(DRAWN)])
    helped = breath_svg(DRAWN, [plan_breaths(DRAWN)])
    assert "more than the lungs have" in texts(trouble)
    assert "more than the lungs have" not in texts(helped)
    assert inked(trouble).mean() > 2 * inked(helped).mean()


def test_parts_and_bars_are_named_as_played() -> None:
    svg = breath_svg(tune("|: 4d:8 | 4b:8 :| |: 5d:8 | 5b:8 :|"), practice_breaths(DRAWN).plans)
    written = texts(svg)
    assert [text for text in written if text in "ABC"] == ["A", "A", "B", "B"]
    assert [text for text in written if text.isdigit()][:2] == ["1", "1"]


def test_speeds_stand_under_each_other_on_one_scale_of_bars() -> None:
    plans = practice_breaths(DRAWN).plans
    svg = breath_svg(DRAWN, plans)
    assert "At full speed, 24 seconds" in texts(svg)
    assert "At 55 per cent of the speed, 44 seconds" in texts(svg)
    bands = [r for r in ET.fromstring(svg).iter(f"{SVG}rect") if float(r.get("width", 0)) > 100]
    assert len({(r.get("x"), r.get("width")) for r in bands}) == 1
    assert float(bands[1].get("y", 0)) > float(bands[0].get("y", 0)) + 20


@pytest.mark.parametrize("width", [90.0, 174.0])
def test_the_drawing_has_the_width_asked_for_and_all_lies_on_it(width: float) -> None:
    for plans in ([without_breaths(DRAWN)], list(practice_breaths(DRAWN).plans)):
        root = ET.fromstring(breath_svg(DRAWN, plans, width_mm=width))
        assert float(root.get("width", 0)) == pytest.approx(width * PIXELS_PER_MM, abs=0.01)
        high = float(root.get("height", 0))
        for element in root.iter(f"{SVG}text"):
            assert 0 <= float(element.get("x", -1)) <= width * PIXELS_PER_MM
            assert 8 <= float(element.get("y", -1)) <= high
        for path in root.iter(f"{SVG}path"):
            if path.get("stroke-linejoin"):
                ys = [float(n) for n in re.findall(r"-?[\d.]+", path.get("d", ""))][1::2]
                assert min(ys) >= 0 and max(ys) <= high


def test_bar_numbers_never_touch() -> None:
    long = tune(" | ".join(["4d:2 4b:2"] * 64))
    svg = breath_svg(long, [plan_breaths(long)], width_mm=90)
    xs = sorted(
        float(element.get("x", 0))
        for element in ET.fromstring(svg).iter(f"{SVG}text")
        if (element.text or "").isdigit()
    )
    assert len(xs) > 4
    assert min(b - a for a, b in pairwise(xs)) >= 20


def test_the_ink_survives_without_colour() -> None:
    svg = breath_svg(DRAWN, practice_breaths(DRAWN).plans)
    colours = set(re.findall(r'(?:fill|stroke)="(#[0-9a-f]{6})"', svg))
    assert all(c[1:3] == c[3:5] == c[5:7] for c in colours), "greys only"


def test_the_words_for_those_who_hear_the_page() -> None:
    alt = breath_alt(DRAWN, [without_breaths(DRAWN)])
    assert "with no extra breath" in alt
    assert "It passes the limit from bar 3 on" in alt
    assert breath_alt(DRAWN, [plan_breaths(DRAWN)]) in breath_svg(DRAWN, [plan_breaths(DRAWN)])


def test_a_dropped_note_has_a_cross() -> None:
    plan = plan_breaths(DRAWN)
    dropped = replace(
        plan, marks=tuple(replace(m, reason=BreathReason.DROPPED_NOTE) for m in plan.marks)
    )
    svg = breath_svg(DRAWN, [dropped], legend=False)
    assert svg.count('class="dropped"') == len(plan.account.taken)
    assert 'class="breath"' not in svg
