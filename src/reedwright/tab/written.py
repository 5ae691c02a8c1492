"""The notes of one voice in written order, each with its sounding and whether a tie holds it.

Public: `WrittenNote`, `written_notes`, `is_cut`.
"""

from __future__ import annotations

from typing import NamedTuple

from reedwright.harp.model import Sounding
from reedwright.tab.arrangement import Arrangement
from reedwright.tune.model import Bar, Note, Rest


class WrittenNote(NamedTuple):
    """A note as it stands. `sounding` is None where the harp lacks the note.

    `continues`: a tie holds it over from the note before, so that it is not sounded anew.
    `after_rest`: there is silence before it (or it begins the tune).
    """

    bar: Bar
    note: Note
    sounding: Sounding | None
    continues: bool
    after_rest: bool


def written_notes(arrangement: Arrangement) -> tuple[WrittenNote, ...]:
    """All notes of the arrangement's voice, in the order in which they stand on the page."""
    found: list[WrittenNote] = []
    held: int | None = None  # MIDI note that a tie holds over
    held_into_endings: int | None = None
    silence = True
    for bar in arrangement.tune.voices[arrangement.voice].bars:
        if bar.ending:
            # A tie over the bar line before the first ending reaches into every ending.
            if 1 in bar.ending:
                held_into_endings = held
            else:
                held = held_into_endings
        for event in bar.events:
            if isinstance(event, Rest):
                held, silence = None, True
            elif isinstance(event, Note):
                midi = event.pitch.midi
                found.append(
                    WrittenNote(
                        bar,
                        event,
                        arrangement.soundings.get(event.id),
                        midi == held and not event.graces,
                        silence,
                    )
                )
                held, silence = (midi if event.tied else None), False
    return tuple(found)


def is_cut(grace: Sounding | None, main: Sounding | None) -> bool:
    """Whether a grace is made by moving to the next hole in the same breath."""
    return (
        grace is not None
        and main is not None
        and grace.breath is main.breath
        and abs(grace.hole - main.hole) == 1
    )
