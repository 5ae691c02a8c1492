"""How the ornaments of a tune are played on the fingering that was found: each one in turn.

Written grace notes, rolls, trills and turns, and those that a teacher puts there, become
`Ornament`s with the holes that they touch; what the harp cannot play says so.

Public: `planned`, `placed`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from fractions import Fraction

from reedwright.harp.model import Sounding
from reedwright.tab.ornaments.lengths import (
    long_roll_lengths,
    short_roll_lengths,
    triplet_lengths,
)
from reedwright.tab.ornaments.model import Origin, Ornament, OrnamentKind, Outcome
from reedwright.tab.ornaments.playable import (
    AS_WRITTEN,
    BEND,
    BOTH,
    LOST,
    SHAKE,
    UP,
    Demand,
    Ornamenting,
    Realised,
    demands_of,
    written_demands,
)
from reedwright.tab.wishes import Wishes
from reedwright.tab.words import listed, pitch_words, short_words
from reedwright.tune.model import Note, Tune

SECONDS_PER_MINUTE = 60.0

# Common practice, no source: a long roll fills a dotted crotchet, a short one a crotchet.
LONG_ROLL_LENGTH, SHORT_ROLL_LENGTH = Fraction(3, 2), Fraction(1)
# The least seconds between the touches of a roll, and of a note that is shaken (our judgement).
ROLL_STRETCH = 0.085
SHORTEST_WARBLE = 0.5

HELD = "a tie only holds the note on there"
UNEVEN = "its length cannot be split into written notes"

_KINDS = {UP: OrnamentKind.CUT, BEND: OrnamentKind.SLIDE}


def planned(
    tune: Tune,
    voice: int,
    soundings: Mapping[str, Sounding],
    ornaments: Ornamenting,
    quarters_per_minute: float,
    wishes: Wishes,
    held: Collection[str] = (),
) -> Iterator[Ornament]:
    """The written ornaments and the teacher's, in the order of their notes.

    `held`: ids of notes that a tie holds on from another. Unless a written grace note sounds
    them anew they cannot be ornamented.
    """
    quarter = SECONDS_PER_MINUTE / quarters_per_minute
    for bar in tune.voices[voice].bars if voice < len(tune.voices) else ():
        for note in bar.notes:
            kind = wishes.ornaments.get(note.id)
            main = soundings.get(note.id)
            if kind is not None:
                if note.id in held:
                    yield _left_out(note, kind, bar.number, Origin.TEACHER, main, HELD)
                else:
                    yield placed(note, main, kind, bar.number, Origin.TEACHER, ornaments)
                continue
            demands = written_demands(note)
            if not demands:
                continue
            graces = [demand for demand in demands if demand.what == "grace"]
            if graces:
                yield _graces(note, main, graces, bar.number, ornaments)
            for demand in demands[len(graces) :]:
                kind = _sign(demand, note, float(note.length) * quarter)
                if note.id in held:
                    yield _left_out(note, kind, bar.number, Origin.WRITTEN, main, HELD)
                    continue
                yield _placed(note, main, kind, demand, bar.number, Origin.WRITTEN, ornaments)


def placed(
    note: Note,
    main: Sounding | None,
    kind: OrnamentKind,
    bar: int,
    origin: Origin,
    ornaments: Ornamenting,
) -> Ornament:
    """An ornament of a kind (but grace notes) on a note, with the holes that it touches."""
    (demand,) = demands_of(kind)
    return _placed(note, main, kind, demand, bar, origin, ornaments)


def roll_kind(length: Fraction, seconds: float) -> OrnamentKind:
    """The roll that a note has time for: long, short, or only a cut."""
    if length >= LONG_ROLL_LENGTH and seconds >= 3 * ROLL_STRETCH:
        return OrnamentKind.LONG_ROLL
    if length >= SHORT_ROLL_LENGTH and seconds >= 2 * ROLL_STRETCH:
        return OrnamentKind.SHORT_ROLL
    return OrnamentKind.CUT


def _sign(demand: Demand, note: Note, seconds: float) -> OrnamentKind:
    """The ornament that a written sign becomes."""
    if demand.what == BOTH:
        return roll_kind(note.length, seconds)
    if demand.what == SHAKE:
        return OrnamentKind.WARBLE if seconds >= SHORTEST_WARBLE else OrnamentKind.CUT
    return _KINDS.get(demand.what, OrnamentKind.TAP)


def _placed(
    note: Note,
    main: Sounding | None,
    kind: OrnamentKind,
    demand: Demand,
    bar: int,
    origin: Origin,
    ornaments: Ornamenting,
) -> Ornament:
    if main is None:
        return _left_out(note, kind, bar, origin, main, "the note itself is missing")
    found = ornaments.realised(main, demand)
    if found.outcome == LOST:
        return _left_out(note, kind, bar, origin, main, _cannot(kind, main))
    touched = found.touched
    kind, why = _fitting(note, kind)
    if kind is OrnamentKind.TRIPLET and why:
        return _left_out(note, kind, bar, origin, main, why)
    if kind is OrnamentKind.CUT:
        touched = touched[:1]
    if found.outcome != AS_WRITTEN:
        why = f"{short_words(main)} has a neighbour on one side only"
        if kind is OrnamentKind.CUT and touched[0].hole < main.hole:
            kind, why = OrnamentKind.TAP, f"no hole lies above {short_words(main)}"
        elif kind is OrnamentKind.TAP and touched[0].hole > main.hole:
            kind, why = OrnamentKind.CUT, f"no hole lies below {short_words(main)}"
    elif demand.what == BOTH and kind is OrnamentKind.CUT and not why:
        why = "the note is too short for a roll"
    elif demand.what == SHAKE and kind is OrnamentKind.CUT:
        why = "the note is too short for a shake"
    outcome = Outcome.OTHER if why else Outcome.AS_WRITTEN
    return Ornament(note.id, kind, origin, outcome, bar, main, touched, why=why)


def _fitting(note: Note, kind: OrnamentKind) -> tuple[OrnamentKind, str]:
    """The ornament that the note's length has room for on paper, and why it is another."""
    if kind is OrnamentKind.TRIPLET:
        if note.tuplet is not None:
            return kind, "the note is one of a group already"
        return kind, "" if triplet_lengths(note.length) else "its length cannot be split so"
    if kind not in (OrnamentKind.LONG_ROLL, OrnamentKind.SHORT_ROLL):
        return kind, ""
    if note.tuplet is not None:
        return OrnamentKind.CUT, "a roll does not fit into a triplet or the like"
    if kind is OrnamentKind.LONG_ROLL and long_roll_lengths(note.length):
        return kind, ""
    if short_roll_lengths(note.length):
        return OrnamentKind.SHORT_ROLL, "" if kind is OrnamentKind.SHORT_ROLL else UNEVEN
    return OrnamentKind.CUT, UNEVEN


def _graces(
    note: Note, main: Sounding | None, demands: list[Demand], bar: int, ornaments: Ornamenting
) -> Ornament:
    written = tuple(grace.pitch.name for grace in note.graces)
    if main is None:
        why = "the note itself is missing"
        left_out = _left_out(note, OrnamentKind.GRACES, bar, Origin.WRITTEN, main, why)
        return replace(left_out, written=written)
    found = [ornaments.realised(main, demand) for demand in demands]
    played = [each for each in found if each.outcome != LOST]
    kind = _grace_kind(main, found)
    if not played:
        left_out = _left_out(note, kind, bar, Origin.WRITTEN, main, _cannot(kind, main))
        return replace(left_out, written=written)
    kept = tuple(touched for _, touched in ornaments.grace_notes(main, note))
    whole = len(kept) == len(found) and all(each.outcome == AS_WRITTEN for each in found)
    return Ornament(
        note.id,
        kind,
        Origin.WRITTEN,
        Outcome.AS_WRITTEN if whole else Outcome.OTHER,
        bar,
        main,
        kept,
        written,
        "" if whole else _why_other(main, note, found),
    )


def _grace_kind(main: Sounding, found: list[Realised]) -> OrnamentKind:
    """A single neighbour is a cut or a tap, a single bend a slide."""
    touched = [each for way in found for each in way.touched]
    if len(found) != 1 or len(touched) != 1:
        return OrnamentKind.GRACES
    if touched[0].bend:
        return OrnamentKind.SLIDE
    step = touched[0].hole - main.hole
    return {1: OrnamentKind.CUT, -1: OrnamentKind.TAP}.get(step, OrnamentKind.GRACES)


def _why_other(main: Sounding, note: Note, found: list[Realised]) -> str:
    lacked = [
        pitch_words(grace.pitch.name)
        for grace, way in zip(note.graces, found, strict=True)
        if way.outcome != AS_WRITTEN
    ]
    if not lacked:
        return "a grace note that comes again at once is not heard"
    if all(grace.pitch == note.pitch for grace in note.graces):
        return "a grace note on the note's own pitch is not heard as one"
    names = listed(list(dict.fromkeys(lacked)))
    return f"{names} cannot be reached from {short_words(main)} in one breath"


def _cannot(kind: OrnamentKind, main: Sounding) -> str:
    if kind is OrnamentKind.SLIDE:
        return f"{short_words(main)} does not bend"
    return f"it cannot be played on {short_words(main)}"


def _left_out(
    note: Note,
    kind: OrnamentKind,
    bar: int,
    origin: Origin,
    main: Sounding | None,
    why: str,
) -> Ornament:
    return Ornament(note.id, kind, origin, Outcome.LEFT_OUT, bar, main, why=why)
