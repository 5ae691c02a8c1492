"""Tempo by tune type, from a table (common practice, no source)."""

from __future__ import annotations

import tomllib
from fractions import Fraction

import pytest

from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.tempo import TABLE, default_tempo, quarters_per_minute, tempo_of


def tune(header: str = "M:4/4\n") -> Tune:
    (found,) = read_abc(f"X:1\nT:T\n{header}L:1/8\nK:C\nc8|\n")
    assert isinstance(found, Tune), found
    return found


@pytest.mark.parametrize(
    ("kind", "same"),
    [
        ("Reel", "reel"),
        ("reels", "reel"),
        ("Irish reel", "reel"),
        ("slip jig", "slip jig"),
        ("Slip-Jig", "slip jig"),
        ("jig (double)", "jig"),
        ("barn dance", "barndance"),
        ("slow air", "slow air"),
        ("3/2 hornpipe", "three-two hornpipe"),
    ],
)
def test_types_in_their_many_spellings(kind: str, same: str) -> None:
    table = tomllib.loads(TABLE.read_text(encoding="utf-8"))[same]
    found = default_tempo(tune(f"M:4/4\nR:{kind}\n"))
    assert (found.beat, found.bpm) == (Fraction(table["beat"]), table["bpm"])


def test_the_metre_stands_for_a_type_that_is_not_named() -> None:
    assert default_tempo(tune("M:6/8\n")) == default_tempo(tune("M:6/8\nR:jig\n"))
    assert default_tempo(tune("M:9/8\nR:whatever\n")) == default_tempo(tune("M:9/8\nR:slip jig\n"))
    assert default_tempo(tune("M:none\n")).bpm
    assert default_tempo(tune("M:7/8\n")).bpm


def test_the_tunes_own_tempo_comes_first() -> None:
    assert quarters_per_minute(tune("M:4/4\nR:reel\nQ:1/2=90\n")) == 180.0
    assert tempo_of(tune('M:4/4\nR:reel\nQ:"Lively"\n')) == default_tempo(tune("M:4/4\nR:reel\n"))


def test_every_entry_of_the_table_is_a_sensible_tempo() -> None:
    for name, entry in tomllib.loads(TABLE.read_text(encoding="utf-8")).items():
        assert 40 <= float(Fraction(entry["beat"])) * entry["bpm"] <= 260, name
