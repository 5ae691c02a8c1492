"""Pictures of the bench sheet, read back from their drawing: marks and valves in their places."""

from __future__ import annotations

import re
from typing import NamedTuple
from xml.etree import ElementTree

import pytest

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath
from reedwright.page.bench.pictures import PALE, plates_svg, work_svg
from reedwright.workshop.conversion.model import Work
from reedwright.workshop.valving.planning import plan_valves

SVG = "{http://www.w3.org/2000/svg}"


class Box(NamedTuple):
    x: float
    y: float
    width: float
    height: float

    def inside(self, other: Box) -> bool:
        return (
            other.x <= self.x
            and self.x + self.width <= other.x + other.width
            and other.y <= self.y
            and self.y + self.height <= other.y + other.height
        )


def boxes(root: ElementTree.Element, fill: str) -> list[Box]:
    return [
        Box(*(float(rect.get(name, 0)) for name in ("x", "y", "width", "height")))
        for rect in root.iter(f"{SVG}rect")
        if rect.get("fill") == fill
    ]


@pytest.mark.parametrize("valves", ["half", "full", "blow 2, draw 9"])
def test_each_valve_lies_over_its_slot_on_its_plate(valves: str) -> None:
    plan = plan_valves(make_harp("C", valves=valves))
    root = ElementTree.fromstring(plates_svg(plan).svg)
    white = boxes(root, "#ffffff")
    plates = sorted((box for box in white if box.width > 200), key=lambda box: box.y)
    slots = [box for box in white if box.width < 200]
    assert len(plates) == 2
    assert len(slots) == 20
    names = {
        text.text: float(text.get("x", 0))
        for text in root.iter(f"{SVG}text")
        if (text.text or "").isdecimal()
    }
    found = set()
    for box in boxes(root, PALE):
        (covered,) = [slot for slot in slots if slot.inside(box)]
        (plate,) = [at for at, plate in enumerate(plates) if box.inside(plate)]
        middle = covered.x + covered.width / 2
        (hole,) = [int(name) for name, x in names.items() if abs(x - middle) < 0.01]
        found.add((tuple(Breath)[plate], hole))
    assert found == {(valve.slot.breath, valve.slot.hole) for valve in plan.valves}
    assert all(any(slot.inside(plate) for plate in plates) for slot in slots)


def test_slots_get_shorter_and_end_in_one_line_towards_the_holes() -> None:
    root = ElementTree.fromstring(plates_svg(plan_valves(make_harp("C", valves="half"))).svg)
    slots = [box for box in boxes(root, "#ffffff") if box.width < 200]
    assert len({round(box.y + box.height, 6) for box in slots[:10]}) == 1
    assert len({round(box.y, 6) for box in slots[10:]}) == 1
    lengths = [box.height for box in slots[:10]]
    assert lengths == sorted(lengths, reverse=True)
    assert lengths[0] > lengths[-1]


@pytest.mark.parametrize(
    ("work", "at_rivet", "at_tip"),
    [
        (Work.RAISE, False, True),
        (Work.LOWER, True, False),
        (Work.TOUCH, False, False),
        (Work.SWAP, False, False),
    ],
)
def test_a_reed_is_marked_where_metal_comes_off(work: Work, at_rivet: bool, at_tip: bool) -> None:
    root = ElementTree.fromstring(work_svg(work))
    (rivet,) = [float(dot.get("cx", 0)) for dot in root.iter(f"{SVG}circle")]
    reed = max(boxes(root, "#ffffff"), key=lambda box: box.width)
    assert rivet < reed.x
    middle = reed.x + reed.width / 2
    marks = [
        float(re.match(r"M([\d.]+)", path.get("d", ""))[1]) for path in root.iter(f"{SVG}path")
    ]
    assert any(x < middle for x in marks) == at_rivet
    assert any(x > middle for x in marks) == at_tip
    dashed = [rect for rect in root.iter(f"{SVG}rect") if rect.get("stroke-dasharray")]
    assert bool(dashed) == (work is Work.SWAP)
