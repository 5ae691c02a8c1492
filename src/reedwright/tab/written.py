"""The notes of one voice in written order, each with its sounding and whether a tie holds it.

Public: `WrittenNote`, `written_notes`, `lacking`.
"""

from __future__ import annotations

from typing import NamedTuple

from reedwright.harp.model import Sounding
from reedwright.tab.arrangement import Arrangement
from reedwright.tune.model import Bar, Note
from reedwright.tune.unfold import unfold


class WrittenNote(NamedTuple):
    """A note as it stands. `sounding` is None where the harp lacks the note.

    `continues`: whenever it is played, a tie holds it over from the note before.
    """

    bar: Bar
    note: Note
    sounding: Sounding | None
    continues: bool


def written_notes(arrangement: Arrangement) -> tuple[WrittenNote, ...]:
    """All notes of the arrangement's voice, in the order in which they stand on the page."""
    played: set[str] = set()
    sounded: set[str] = set()
    for play in unfold(arrangement.tune, arrangement.voice).notes:
        played.add(play.note.id)
        if not play.held:
            sounded.add(play.note.id)
    return tuple(
        WrittenNote(
            bar,
            note,
            arrangement.soundings.get(note.id),
            note.id in played and note.id not in sounded,
        )
        for bar in arrangement.tune.voices[arrangement.voice].bars
        for note in bar.notes
    )


def lacking(arrangement: Arrangement) -> str:
    """How to begin a sentence on missing notes: does the harp lack them, or the player?"""
    midis = {note.id: note.pitch.midi for note in arrangement.tune.voices[arrangement.voice].notes}
    if any(midis[missing.id] in arrangement.harp.ways for missing in arrangement.missing):
        return "With the techniques in use this harp has no"
    return "This harp has no"
