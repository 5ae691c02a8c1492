"""The user's file of measured slots: what it may say, and what its errors tell."""

from dataclasses import replace
from pathlib import Path

import pytest

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Reed
from reedwright.workshop.valving.form import slot_form
from reedwright.workshop.valving.model import RivetEnd, ValveError
from reedwright.workshop.valving.planning import plan_valves
from reedwright.workshop.valving.reading import read_slot_sizes
from reedwright.workshop.valving.slots import slots_of

GOOD = """\
title = "my C harp"
hole_pitch = 7.6
chamber_width = 5
draw_rivets = "front"

[blow]
1 = [15.8, 2.2]
10 = [9.1, 2.0]  # the shortest

[draw]
1 = [15.9, 2.3]
"""


def written(folder: Path, text: str) -> Path:
    path = folder / "slots.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_file_of_measured_slots_is_read(tmp_path: Path):
    sizes = read_slot_sizes(written(tmp_path, GOOD))
    assert sizes.title == "my C harp"
    assert {s.reed: (s.length, s.width) for s in sizes.slots} == {
        Reed(1, Breath.BLOW): (15.8, 2.2),
        Reed(10, Breath.BLOW): (9.1, 2.0),
        Reed(1, Breath.DRAW): (15.9, 2.3),
    }
    plates = sizes.plates
    assert (plates.hole_pitch, plates.rivet_gap, plates.chamber_width) == (7.6, 2.5, 5.0)
    assert plates.draw_rivets is RivetEnd.FRONT
    assert plates.told == {"hole_pitch", "chamber_width", "draw_rivets"}


def test_what_was_measured_is_no_longer_told_to_be_from_memory(tmp_path: Path):
    plan = plan_valves(make_harp("C", valves="half"), read_slot_sizes(written(tmp_path, GOOD)))
    assert plan.notes[0] == "Slots as they were measured: my C harp."
    (memory,) = [note for note in plan.notes if note.startswith("From memory")]
    assert "rivet" in memory and "7.6" not in memory and "chamber" not in memory
    (ends,) = [note for note in plan.notes if "riveted" in note]
    assert "blow reeds" in ends and "draw reeds" not in ends
    first = next(valve for valve in plan.valves if valve.name == "draw 1")
    assert (first.measured, first.length, first.width) == (True, 18.7, 3.5)


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        ("hole_pitch", "hole_pich", 2, "did you mean 'hole_pitch'"),
        ("7.6", '"wide"', 2, "4 to 15"),
        ("hole_pitch = 7.6", "rivet_gap = true", 2, "millimetres"),
        ("chamber_width = 5", "chamber_width = 9.0", 3, "no wall"),
        ('"front"', '"left"', 4, "front"),
        ("[blow]", "[[blow]]", 6, "section"),
        ("10 = [9.1", "ten = [9.1", 8, "not a hole"),
        ("10 = [9.1", "0 = [9.1", 8, "not a hole"),
        ("10 = [9.1", "25 = [9.1", 8, "not a hole"),
        ("[9.1, 2.0]", "9.1", 8, "length and width"),
        ("[9.1, 2.0]", "[91, 2.0]", 8, "blow slot of hole 10: the length must be"),
        ("[15.9, 2.3]", "[15.9, 23]", 11, "draw slot of hole 1: the width must be"),
        ("[15.9, 2.3]", "[nan, 2.3]", 11, "the length must be"),
    ],
)
def test_an_error_names_file_and_line(tmp_path: Path, old: str, new: str, line: int, says: str):
    assert old in GOOD
    path = written(tmp_path, GOOD.replace(old, new, 1))
    with pytest.raises(ValveError) as error:
        read_slot_sizes(path)
    assert str(error.value).startswith(f"{path}, line {line}: ")
    assert says in str(error.value)


def test_a_missing_or_broken_file_is_told(tmp_path: Path):
    with pytest.raises(ValveError, match="no such slot sizes file"):
        read_slot_sizes(tmp_path / "none.toml")
    with pytest.raises(ValveError, match="not a valid TOML"):
        read_slot_sizes(written(tmp_path, "[blow\n"))


def test_the_form_to_fill_in_is_read_as_it_is_and_filled_in(tmp_path: Path):
    harp = make_harp("Bb", "richter-raised-3-blow", valves="half")
    form = slot_form(harp)
    blank = read_slot_sizes(written(tmp_path, form))
    assert blank.slots == () and not blank.plates.told
    assert blank.title == harp.name
    quoted = replace(harp, tuning=replace(harp.tuning, title='my "own"'))
    assert read_slot_sizes(written(tmp_path, slot_form(quoted))).title == quoted.name
    head, rest = form.split("title", 1)
    filled = read_slot_sizes(written(tmp_path, head + "title" + rest.replace("\n# ", "\n")))
    assert len(filled.slots) == 20 and len(filled.plates.told) == 5
    for known, default in zip(filled.slots, slots_of(harp), strict=True):
        assert known.reed == default.reed and known.measured
        assert known.length == pytest.approx(default.length, abs=0.051)
