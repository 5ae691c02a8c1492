"""What became of every written note: played, missed or wrong; and what was added.

A note is wrong where what was heard in its place lies more than `WRONG_CENTS` off it. A written
note for which following found nothing is looked for once more: in the notes that belong to
nothing, and in the pitch track, since two notes of one pitch that run together are heard as
one. What is heard besides, short and leading into a written note, is an ornament of the
player's own and no fault.

Public: `judged_notes`, `added_notes`, `Pitching`, `places`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import log2

import numpy as np
import numpy.typing as npt

from reedwright.harp.layout import note_name
from reedwright.harp.model import Harp, Sounding, Technique
from reedwright.sound.hearing.model import Heard, HeardNote
from reedwright.takes.following.score import held_after
from reedwright.takes.model import FollowedNote, Following
from reedwright.takes.report.model import AddedNote, JudgedNote, Place, Verdict
from reedwright.tune.unfold import unfold, written_beats

WRONG_CENTS = 60.0  # nearer to another note than to this one, with room for a lax bend
SAME_CENTS = 50.0  # of the pitch track: it is this note
HELD_SHARE = 0.6  # of a note's time that its pitch must sound to have been held over
# Another note is held in its place where that sounds for this share of the time, the edges (a
# share on either side) apart, and never falls so far (dB) below its own level: an echo does.
HELD_INSTEAD_SHARE, HELD_EDGE, HELD_LEVEL = 0.9, 0.2, 6.0
OVERLAP_SHARE = 0.5  # of the shorter of a note's time and one that belongs to nothing
# A note heard as another has the right pitch after all where the track holds it for this share
# of its time and this long (seconds): two notes that run together are heard as one.
RIGHT_SHARE, RIGHT_SECONDS = 0.35, 0.035
FAINT_SURETY = 0.5  # below it a note that is not written is taken for noise
SHORTEST_ADDED = 0.04  # seconds; a cut lasts as long
LONGEST_ORNAMENT = 0.13  # seconds (judgement, no source)
ORNAMENT_GAP = 0.06  # seconds from an ornament's end to the note that it leads into


@dataclass(frozen=True, slots=True)
class Pitching:
    """What pitch is measured against: `a4` is the take's own reference in Hz.

    `tempered`: cents from equal temperament of every MIDI note, as the harp is tuned.
    """

    harp: Harp
    tempered: tuple[float, ...]
    a4: float

    def cents(self, hz: float, midi: int) -> float:
        """How far a frequency lies above a note of this harp."""
        above = 1200 * log2(hz / self.a4) - 100 * (midi - 69)
        return above - self.tempered[midi]

    def nearest(self, hz: float) -> int:
        """The MIDI note that a frequency is nearest to."""
        return round(69 + 12 * log2(hz / self.a4))


def places(following: Following) -> tuple[Place, ...]:
    """Where each of `Following.notes` stands, in order."""
    beats = written_beats(following.arrangement.tune, following.arrangement.voice)
    found = [Place(0, Fraction(1))] * len(following.notes)
    for bar in following.bars:
        beat = Fraction(1)
        for k in range(bar.last - 1, bar.first - 1, -1):  # a grace note stands at its note
            beat = beats.get(following.notes[k].id, beat)
            found[k] = Place(bar.number, beat, bar.part, bar.part_time)
    return tuple(found)


def judged_notes(
    following: Following, soundings: Mapping[str, Sounding], pitching: Pitching
) -> tuple[tuple[JudgedNote, ...], frozenset[int]]:
    """Every written note, and which of `Following.extra` turned out to stand for one of them."""
    found: list[JudgedNote] = []
    used: set[int] = set()
    arrangement = following.arrangement
    held_on = held_after(unfold(arrangement.tune, arrangement.voice))
    before: tuple[str, list[HeardNote]] = ("", [])
    for k, (note, place) in enumerate(zip(following.notes, places(following), strict=True)):
        sounding = soundings.get(note.id)
        heard = _heard_for(following, note, used, pitching)
        if not heard and (before[0], note.id) in held_on:
            heard = before[1]  # a tie holds it on this time: what began it stands for it too
        before = (note.id, heard)
        base = JudgedNote(
            index=k,
            id=note.id,
            time=note.time,
            place=place,
            midi=note.midi,
            name=note_name(note.midi, pitching.harp),
            sounding=sounding,
            start=note.start,
            end=note.end,
            verdict=Verdict.MISSED,
            is_grace=note.is_grace,
        )
        found.append(_judged(base, heard, following.heard, pitching))
    return tuple(found), frozenset(used)


def _heard_for(
    following: Following, note: FollowedNote, used: set[int], pitching: Pitching
) -> list[HeardNote]:
    """What was heard in a note's place; a note that belonged to nothing is marked as used."""
    heard = following.heard
    if note.heard or note.is_grace:
        return [heard.notes[k] for k in note.heard]
    overlaps = [
        (_overlap(note, heard.notes[k]), k)
        for k in following.extra
        if k not in used and heard.notes[k].surety >= FAINT_SURETY
    ]
    most, index = max(overlaps, default=(0.0, -1))
    if most >= OVERLAP_SHARE:
        used.add(index)
        return [heard.notes[index]]
    return _held_over(heard, note, pitching) or _held_instead(heard, note, pitching)


def _held_instead(heard: Heard, note: FollowedNote, pitching: Pitching) -> list[HeardNote]:
    """A neighbour of another pitch that sounds on through this note's time at its full level."""
    edge = HELD_EDGE * (note.end - note.start)
    start, end = note.start + edge, note.end - edge
    level = heard.track.level[heard.track.frames(start, end)]
    if not len(level):
        return []
    for other in heard.notes:
        if other.end < start or other.start > end or other.surety < FAINT_SURETY:
            continue
        midi = pitching.nearest(other.hz)
        cents = _track_cents(heard, start, end, midi, pitching)
        steady = float(np.mean(np.abs(cents) < SAME_CENTS)) >= HELD_INSTEAD_SHARE
        if steady and midi != note.midi and float(level.min()) >= other.level - HELD_LEVEL:
            return [other]
    return []


def _overlap(note: FollowedNote, heard: HeardNote) -> float:
    """How much of the shorter of the two the other covers."""
    shared = min(note.end, heard.end) - max(note.start, heard.start)
    return shared / max(1e-3, min(note.end - note.start, heard.seconds))


def _held_over(heard: Heard, note: FollowedNote, pitching: Pitching) -> list[HeardNote]:
    """The note before, where it has this note's pitch and sounds on through its time."""
    cents = _track_cents(heard, note.start, note.end, note.midi, pitching)
    if not len(cents) or float(np.mean(np.abs(cents) < SAME_CENTS)) < HELD_SHARE:
        return []
    through = [n for n in heard.notes if n.start <= note.start + 0.05 and n.end > note.start + 0.05]
    return [n for n in through if abs(pitching.cents(n.hz, note.midi)) < SAME_CENTS]


def _track_cents(
    heard: Heard, start: float, end: float, midi: int, pitching: Pitching
) -> npt.NDArray[np.float64]:
    """The pitch track off a note, frame by frame; infinite where nothing is heard."""
    hz = heard.track.hz[heard.track.frames(start, end)].astype(np.float64)
    sounding = hz > 0
    cents = np.full(len(hz), np.inf)
    target = pitching.a4 * 2 ** ((midi - 69) / 12)
    cents[sounding] = 1200 * np.log2(hz[sounding] / target) - pitching.tempered[midi]
    return cents


def _judged(
    note: JudgedNote, heard: Sequence[HeardNote], whole: Heard, pitching: Pitching
) -> JudgedNote:
    if not heard:
        return note
    right = [h for h in heard if abs(pitching.cents(h.hz, note.midi)) <= WRONG_CENTS]
    sounded = sum(h.seconds for h in heard)
    is_right = sum(h.seconds for h in right) >= 0.4 * sounded
    main = max(right if is_right else heard, key=lambda h: h.seconds)
    if is_right or note.is_grace:
        return replace(
            note,
            verdict=Verdict.PLAYED,
            heard_midi=note.midi,
            cents=pitching.cents(main.hz, note.midi),
            spread=main.spread,
        )
    cents = _track_cents(whole, main.start, main.end, note.midi, pitching)
    right_frames = cents[np.abs(cents) <= SAME_CENTS]
    if (
        len(right_frames) >= RIGHT_SHARE * len(cents)
        and len(right_frames) * whole.track.hop >= RIGHT_SECONDS
    ):
        middle = float(np.median(right_frames))
        return replace(note, verdict=Verdict.PLAYED, heard_midi=note.midi, cents=middle)
    midi = pitching.nearest(main.hz)
    return replace(
        note,
        verdict=Verdict.WRONG,
        heard_midi=midi,
        cents=pitching.cents(main.hz, midi),
        spread=main.spread,
        instead=likely_way(pitching.harp, midi, note.sounding),
    )


def likely_way(harp: Harp, midi: int, intended: Sounding | None) -> Sounding | None:
    """How a note was probably made by somebody who meant to make another.

    The nearest hole, the breath that was meant and the plainest technique are likeliest
    (judgement, no source). None where the harp does not have it.
    """
    ways = harp.ways.get(midi, ())
    if not ways:
        return None

    def unlikely(way: Sounding) -> float:
        cost = 3.0 * way.technique.overbend + 1.0 * (way.technique is not Technique.NATURAL)
        cost += 4.0 * way.slide
        if intended is not None:
            cost += abs(way.hole - intended.hole) + 0.5 * (way.breath is not intended.breath)
        return cost

    return min(ways, key=unlikely)


def added_notes(
    following: Following, used: frozenset[int], pitching: Pitching
) -> tuple[AddedNote, ...]:
    """What was heard within the tune and is not written."""
    heard = following.heard
    spots = places(following)
    starts = np.array([note.start for note in following.notes])
    found = []
    for k in following.extra:
        note = heard.notes[k]
        if k in used or note.surety < FAINT_SURETY or note.seconds < SHORTEST_ADDED:
            continue
        before = int(np.searchsorted(starts, note.start + 0.02, side="right")) - 1
        place = spots[max(0, before)] if spots else Place(0, Fraction(1))
        midi = pitching.nearest(note.hz)
        name = note_name(midi, pitching.harp)
        ornament = _is_ornament(heard, k)
        found.append(AddedNote(k, place, note.start, note.end, midi, name, ornament))
    return tuple(found)


def _is_ornament(heard: Heard, index: int) -> bool:
    """Short, and another note follows close upon it."""
    note = heard.notes[index]
    if note.seconds > LONGEST_ORNAMENT or index + 1 >= len(heard.notes):
        return False
    return bool(heard.notes[index + 1].start - note.end <= ORNAMENT_GAP)
