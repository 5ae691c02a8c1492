"""The facts of a tune: what the shelf is searched by.

Public: `TuneFacts`, `Grade`, `RULES`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from reedwright.tune.likeness.melody import MelodyNote

RULES = 1
"""Version of the rules; facts of an older one are worked out again."""


@dataclass(frozen=True, slots=True)
class TuneFacts:
    """Facts of one tune, of its first voice.

    `key` as `Key.name`, `tonic` its pitch class (-1 for none). `lowest`, `highest`: MIDI notes of
    the melody as written, 0 where there are no notes; `pitches`: all that occur, in order. `notes`
    counts written ones. `form` is `AABB`. `fields`: code and text of each header field. `music`: a
    hash that is equal for tunes of equal music, whatever their words. `melody`: its strips
    (`reedwright.tune.likeness.melody`).
    """

    number: str
    title: str
    titles: tuple[str, ...]
    type: str
    key: str
    tonic: int
    mode: str
    metre: str
    lowest: int
    highest: int
    pitches: tuple[int, ...]
    notes: int
    bars: int
    form: str
    composer: str
    rights: str
    fields: tuple[tuple[str, str], ...]
    music: str
    melody: tuple[tuple[MelodyNote, ...], ...]


class Grade(NamedTuple):
    """How hard a tune is for a player on the harp where it lies best (docs/difficulty.md)."""

    harp: str
    octaves: int
    grade: float
