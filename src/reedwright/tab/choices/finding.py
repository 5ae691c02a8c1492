"""Which note a choice means, in a tune that may have been edited since.

The rule, tried in this order for all choices of one kind (a note once found is taken, so
that two choices never fall together on one note):

1. The note at that part, bar and beat, if it has that pitch.
2. In the same bar of the same part, the note of that pitch at the nearest beat, at most one beat
   off (the earlier of two).
3. A note that has pitch, beat and both neighbours (`between`): in the part the one that is
   a bar off, else the only one; if the part has none, the only one of the tune.

Before a note is taken by 1 or 2 that has not both neighbours, it is asked whether the music was
moved: the one note a bar off in the part that has pitch, beat and both neighbours goes before, and
if neither neighbour is there, the only such note of the part.

How often that is right on real tunes: docs/choices.md.

Pitches are compared by how they sound, so that `F#4` finds `Gb4`.

Public: `find_notes`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction

from reedwright.tab.choices.model import Choice, NotePlace
from reedwright.tab.choices.pitches import midi_of
from reedwright.tab.choices.places import NOTHING, Placed

NEAREST_BEAT = Fraction(1)
"""How far, in beats, a note may have moved within its bar."""

_Pick = Callable[[NotePlace, Sequence[Placed]], Placed | None]


def find_notes(choices: Sequence[Choice], notes: Sequence[Placed]) -> dict[int, Placed]:
    """For each choice that fits, by index, its note. Choices for other notes are left out."""
    found: dict[int, Placed] = {}
    taken: set[tuple[str, str, int]] = set()
    by_midi: dict[int, list[Placed]] = {}
    for note in notes:
        by_midi.setdefault(note.midi, []).append(note)
    for pick in (_exact, _nearest, _same_surroundings):
        for index, choice in enumerate(choices):
            if index in found:
                continue
            kind, time = type(choice.says).__name__, choice.place.time
            free = [
                note
                for note in by_midi.get(midi_of(choice.place.pitch), ())
                if (note.id, kind, time) not in taken
            ]
            picked = pick(choice.place, free)
            if picked is not None:
                found[index] = picked
                taken.add((picked.id, kind, time))
    return found


def _exact(place: NotePlace, notes: Sequence[Placed]) -> Placed | None:
    here = next((note for note in notes if _bar_of(note, place) and _beat_of(note, place)), None)
    return here and _unless_moved(here, place, notes)


def _nearest(place: NotePlace, notes: Sequence[Placed]) -> Placed | None:
    near = [
        (abs(note.place.beat - place.beat), at, note)
        for at, note in enumerate(notes)
        if _bar_of(note, place) and abs(note.place.beat - place.beat) <= NEAREST_BEAT
    ]
    return _unless_moved(min(near)[2], place, notes) if near else None


def _unless_moved(here: Placed, place: NotePlace, notes: Sequence[Placed]) -> Placed:
    """The note at the place, or the one that was there if the music around it was moved."""
    if not place.between:
        return here
    alike = _neighbours_alike(here, place)
    if all(alike):
        return here
    same = _same_in_part(place, notes)
    return _next_bar(place, same) or (None if any(alike) else _only(same)) or here


def _same_surroundings(place: NotePlace, notes: Sequence[Placed]) -> Placed | None:
    if not place.between:
        return None
    same = _same_in_part(place, notes)
    if same:
        return _next_bar(place, same) or _only(same)
    return _only(note for note in notes if _same(note, place))


def _same_in_part(place: NotePlace, notes: Sequence[Placed]) -> list[Placed]:
    return [note for note in notes if note.place.part == place.part and _same(note, place)]


def _next_bar(place: NotePlace, notes: Sequence[Placed]) -> Placed | None:
    """The one of these notes that stands a bar off: where it goes when a bar is put in."""
    return _only(note for note in notes if abs(note.place.bar - place.bar) == 1)


def _bar_of(note: Placed, place: NotePlace) -> bool:
    return note.place.part == place.part and note.place.bar == place.bar


def _beat_of(note: Placed, place: NotePlace) -> bool:
    return note.place.beat == place.beat


def _same(note: Placed, place: NotePlace) -> bool:
    return _beat_of(note, place) and all(_neighbours_alike(note, place))


def _neighbours_alike(note: Placed, place: NotePlace) -> tuple[bool, bool]:
    before, after = (_sounds(name) for name in note.place.between.split(" "))
    wanted_before, wanted_after = (_sounds(name) for name in place.between.split(" "))
    return before == wanted_before, after == wanted_after


def _sounds(name: str) -> int | None:
    return None if name == NOTHING else midi_of(name)


def _only(notes: Iterable[Placed]) -> Placed | None:
    found = list(notes)
    return found[0] if len(found) == 1 else None
