"""Two arrangements of one tune side by side: bar by bar, and in what their efforts are made of.

Public: `Comparison`, `BarRow`, `PartRow`, `NoteDifference`, `compared`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from reedwright.harp.layout import note_name
from reedwright.page.content import signs_in_print
from reedwright.player.profile import weight_meanings
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.difficulty.hardest import bar_works
from reedwright.tab.notation import MISSING, tab_sign
from reedwright.tab.written import written_notes

_LEAST = 0.005
"""Effort below which a difference is rounding, as two decimals are shown."""
_LEAP, _LEAP_HOLE = "leap", "leap_hole"


class BarRow(NamedTuple):
    """One printed bar (0: the upbeat): its tab and its effort, all times it is played, on each."""

    number: int
    tabs: tuple[str, str]
    efforts: tuple[float, float]
    differs: bool


class PartRow(NamedTuple):
    """What costs effort, in words, and how much on each."""

    words: str
    efforts: tuple[float, float]


class NoteDifference(NamedTuple):
    """A note that is played otherwise, as tab; the multiplication sign where it is missing."""

    id: str
    bar: int
    pitch: str
    tabs: tuple[str, str]


@dataclass(frozen=True, slots=True)
class Comparison:
    bars: tuple[BarRow, ...]
    parts: tuple[PartRow, ...]
    notes: tuple[NoteDifference, ...]

    @property
    def ids(self) -> str:
        """Of the notes that are played otherwise, with spaces between."""
        return " ".join(each.id for each in self.notes)


def compared(one: Arrangement, two: Arrangement) -> Comparison:
    """Two arrangements of the same tune and voice. Effort is that of the tune as played."""
    first, second = _tabs(one), _tabs(two)
    works = [{work.number: work.effort for work in bar_works(each)} for each in (one, two)]
    numbers = list(dict.fromkeys((*first, *second)))
    bars = []
    for number in numbers:
        tabs = (first.get(number, []), second.get(number, []))
        efforts = (works[0].get(number, 0.0), works[1].get(number, 0.0))
        differs = tabs[0] != tabs[1] or abs(efforts[0] - efforts[1]) >= _LEAST
        bars.append(BarRow(number, (" ".join(tabs[0]), " ".join(tabs[1])), efforts, differs))
    return Comparison(tuple(bars), tuple(_parts(one, two)), tuple(_notes(one, two)))


def _tabs(arrangement: Arrangement) -> dict[int, list[str]]:
    found: dict[int, list[str]] = {}
    for note in written_notes(arrangement.as_written()):
        signs = found.setdefault(note.bar.number, [])
        if not note.continues:
            signs.append(MISSING if note.sounding is None else tab_sign(note.sounding))
    return found


def _parts(one: Arrangement, two: Arrangement) -> Iterator[PartRow]:
    """The weightiest first; both weights of a leap are told together."""
    meanings = {**weight_meanings(), _LEAP: "leaps over more than one hole"}
    heaps = [_heaped(each) for each in (one, two)]
    rows = [
        PartRow(
            meanings.get(name, name.replace("_", " ")),
            (heaps[0].get(name, 0.0), heaps[1].get(name, 0.0)),
        )
        for name in dict.fromkeys((*heaps[0], *heaps[1]))
    ]
    yield from sorted(rows, key=lambda row: -max(row.efforts))


def _heaped(arrangement: Arrangement) -> dict[str, float]:
    found: dict[str, float] = {}
    for name, effort in arrangement.parts_of_effort.items():
        head = _LEAP if name == _LEAP_HOLE else name
        found[head] = found.get(head, 0.0) + effort
    return found


def _notes(one: Arrangement, two: Arrangement) -> Iterator[NoteDifference]:
    others = {note.note.id: note.sounding for note in written_notes(two.as_written())}
    for note in written_notes(one.as_written()):
        if note.continues or note.note.id not in others:
            continue
        tabs = [
            MISSING if each is None else tab_sign(each)
            for each in (note.sounding, others[note.note.id])
        ]
        if tabs[0] != tabs[1]:
            pitch = signs_in_print(note_name(note.note.pitch.midi, one.harp))
            yield NoteDifference(note.note.id, note.bar.number, pitch, (tabs[0], tabs[1]))
