"""The JSON of `tab` and `harps` keeps to docs/formats.md."""

from __future__ import annotations

import json
import re
from pathlib import Path

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tab.ranking import rank_harps
from reedwright.tab.report import arrangement_report, ranking_report
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

DOC = Path(__file__).parents[2] / "docs" / "formats.md"


def test_tab_report() -> None:
    (tune,) = read_abc("X:7\nT:T\nM:4/4\nL:1/8\nQ:1/4=90\nK:C\n|:c2_d2 {f}=d4-|1 d8:|2 d2_e6|]\n")
    assert isinstance(tune, Tune)
    report = arrangement_report(
        arrange(tune, make_harp("C", valves="none"), load_profile("player"))
    )
    assert json.loads(json.dumps(report)) == report
    assert (report["title"], report["number"], report["key"]) == ("T", "7", "C major")
    assert (report["position"], report["position_name"]) == (1, "first")
    assert report["quarters_per_minute"] == 90.0
    assert report["complete"] is False
    assert [(m["name"], m["bar"], m["beat"]) for m in report["missing"]] == [("Eb5", 3, 2.0)]
    assert sum(report["effort_parts"].values()) == report["effort"]
    notes = report["notes"]
    assert [(n["bar"], n["beat"], n["midi"], n["hole"], n["breath"]) for n in notes] == [
        (1, 1.0, 72, 4, "blow"),
        (1, 2.0, 73, 4, "draw"),
        (1, 3.0, 74, 4, "draw"),
        (2, 1.0, 74, 4, "draw"),
        (3, 1.0, 74, 4, "draw"),
        (3, 2.0, 75, None, None),
    ]
    assert [n["tied_on"] for n in notes] == [False, False, False, True, True, False]
    assert (notes[1]["technique"], notes[1]["bend"], notes[1]["name"]) == ("bend", 1, "Db5")
    assert notes[2]["graces"] == [
        {
            "id": tune.bars[0].notes[2].graces[0].id,
            "midi": 77,
            "name": "F5",
            "hole": 5,
            "breath": "draw",
            "technique": "natural",
            "bend": 0,
            "slide": False,
        }
    ]
    assert [n["id"] for n in notes] == [n.id for bar in tune.bars for n in bar.notes]
    documented = set(re.findall(r"`([a-z_]+)`", DOC.read_text(encoding="utf-8")))
    assert set(report) <= documented and set(notes[0]) <= documented


def test_ranking_report() -> None:
    (tune,) = read_abc("X:1\nT:T\nM:4/4\nL:1/8\nK:C\ncdef gabc'|\n")
    assert isinstance(tune, Tune)
    report = ranking_report(tune, rank_harps(tune, load_profile("player")))
    assert json.loads(json.dumps(report)) == report
    first = report["harps"][0]
    assert first["rank"] == 1
    assert first["harp"] == {
        "name": "C harp",
        "key": "C",
        "register": "ordinary",
        "tuning": "richter",
        "valved_reeds": [],
    }
    assert (first["lowest_hole"], first["highest_hole"], first["bends"]) == (4, 7, 0)
    documented = set(re.findall(r"`([a-z_]+)`", DOC.read_text(encoding="utf-8")))
    assert set(first) <= documented


def test_beats_of_an_upbeat_and_of_a_cut_bar_count_on_as_in_the_full_bar() -> None:
    (tune,) = read_abc("X:1\nT:T\nM:4/4\nL:1/4\nK:C\nc|cccc|cc:|cc|cccc|]\n")
    assert isinstance(tune, Tune)
    found = arrangement_report(arrange(tune, make_harp("C"), load_profile("player")))
    places = [(note["bar"], note["beat"]) for note in found["notes"]]
    assert places[:7] == [(0, 4), (1, 1), (1, 2), (1, 3), (1, 4), (2, 1), (2, 2)]
    assert places[7:9] == [(2, 3), (2, 4)]
