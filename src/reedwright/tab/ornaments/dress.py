"""A tune dressed: its ornaments become grace notes, and rolls split notes, each with its tab.

A long roll is written out as the note, the note with a cut, the note with a tap, under one
slur; a short roll as the last two of these (common practice of written-out tunes). A triplet
becomes three notes of one pitch. A warble is the other hole as grace note and the sign of the
trill, a slide the bend as grace note and its own sign.

Public: `dress`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from reedwright.harp.model import Sounding
from reedwright.tab.ornaments.asked import bare
from reedwright.tab.ornaments.lengths import (
    long_roll_lengths,
    short_roll_lengths,
    triplet_lengths,
)
from reedwright.tab.ornaments.model import Origin, Ornament, OrnamentKind, Outcome
from reedwright.tab.ornaments.playable import Ornamenting
from reedwright.tune.model import Bar, Change, Event, Grace, Key, Note, Tune, Tuplet
from reedwright.tune.spelling import spelled

GRACE_LENGTH = Fraction(1, 2)
_QUARTER = Fraction(1)
_HELD_AT_WILL = ("fermata", "invertedfermata", "breath")  # belong to the end of a note


def dress(
    tune: Tune,
    voice: int,
    ornaments: Iterable[Ornament],
    soundings: Mapping[str, Sounding],
    ornamenting: Ornamenting,
) -> tuple[Tune, dict[str, Sounding]]:
    """The tune with its ornaments written into it, and the soundings of what was added.

    Added notes have ids of their own: `n12o1` a grace note, `n12s2` the second part of a
    split note. What a harp cannot play is left out of the tune.
    """
    by_note: dict[str, list[Ornament]] = defaultdict(list)
    for each in ornaments:
        by_note[each.note_id].append(each)
    if not by_note:
        return tune, {}
    mine = tune.voices[voice]
    # Beams are drawn where the source draws any, and where it has no note that could have one.
    beamed = any(note.beamed for note in mine.notes)
    beamed = beamed or all(note.length >= _QUARTER for note in mine.notes)
    dresser = _Dresser(by_note, soundings, ornamenting, beamed)
    bars = tuple(dresser.bar(bar) for bar in mine.bars)
    voices = (*tune.voices[:voice], replace(mine, bars=bars), *tune.voices[voice + 1 :])
    return replace(tune, voices=voices), dresser.added


class _Dresser:
    """Goes through the bars in written order. `added`: soundings of what it writes."""

    def __init__(
        self,
        by_note: Mapping[str, list[Ornament]],
        soundings: Mapping[str, Sounding],
        ornamenting: Ornamenting,
        beamed: bool,
    ) -> None:
        self._by_note = by_note
        self._soundings = soundings
        self._ornamenting = ornamenting
        self._beamed = beamed
        self._slurs = 0
        self.added: dict[str, Sounding] = {}

    def bar(self, bar: Bar) -> Bar:
        events: list[Event] = []
        changed = False
        key = bar.key
        for event in bar.events:
            if isinstance(event, Change):
                key = event.key or key
            if not isinstance(event, Note):
                events.append(event)
                continue
            mine = self._by_note.get(event.id)
            if mine is None:
                events.append(event)
            else:
                written = self._note(event, mine, key)
                changed = changed or written != [event]
                events += written
            self._slurs = max(0, self._slurs + event.slurs_open - event.slurs_close)
        return replace(bar, events=tuple(events)) if changed else bar

    def _note(self, note: Note, mine: Sequence[Ornament], key: Key) -> list[Note]:
        graces: list[Grace] = []
        for each in mine:
            if each.origin is Origin.WRITTEN and each.written:
                graces += self._written_graces(note, key)
        dressed = replace(bare(note), graces=tuple(graces), slashed=note.slashed and bool(graces))
        pieces = [dressed]
        for each in mine:
            if each.written or each.outcome is Outcome.LEFT_OUT:
                continue
            pieces = self._shaped(pieces, each, key)
        return pieces

    def _written_graces(self, note: Note, key: Key) -> list[Grace]:
        """The grace notes as the harp has them, those that it cannot play left out."""
        main = self._soundings.get(note.id)
        if main is None:
            return []
        found = []
        for k, touched in self._ornamenting.grace_notes(main, note):
            grace = note.graces[k]
            self.added[grace.id] = touched
            if touched.midi != grace.pitch.midi:
                grace = replace(grace, pitch=spelled(touched.midi, key))
            found.append(grace)
        return found

    def _shaped(self, pieces: list[Note], ornament: Ornament, key: Key) -> list[Note]:
        *before, note = pieces
        match ornament.kind:
            case OrnamentKind.LONG_ROLL:
                lengths, cuts = long_roll_lengths(note.length), (1, 2)
            case OrnamentKind.SHORT_ROLL:
                lengths, cuts = short_roll_lengths(note.length), (0, 1)
            case OrnamentKind.TRIPLET:
                return [*before, *self._triplet(note)]
            case OrnamentKind.SLIDE:
                return [*before, _decorated(self._cut(note, ornament.touched[0], key), "slide")]
            case OrnamentKind.WARBLE:
                return [*before, _decorated(self._cut(note, ornament.touched[0], key), "trill")]
            case _:
                return [*before, self._cut(note, ornament.touched[0], key)]
        assert lengths is not None  # `plan` has seen to it
        split = self._split(note, lengths)
        for place, touched in zip(cuts, ornament.touched, strict=True):
            split[place] = self._cut(split[place], touched, key)
        return [*before, *self._slurred(split)]

    def _cut(self, note: Note, touched: Sounding, key: Key) -> Note:
        if note.graces and self.added.get(note.graces[-1].id) == touched:
            return note  # a grace note of its own sounds the same
        id_ = f"{note.id}o{len(note.graces) + 1}"
        self.added[id_] = touched
        grace = Grace(id_, spelled(touched.midi, key), GRACE_LENGTH, note.place)
        return replace(note, graces=(*note.graces, grace))

    def _split(self, note: Note, lengths: Sequence[Fraction]) -> list[Note]:
        """The note as several that follow each other, all from its hole."""
        count = len(lengths)
        at_end = tuple(each for each in note.decorations if each in _HELD_AT_WILL)
        at_start = tuple(
            each for each in note.decorations if each not in (*_HELD_AT_WILL, "staccato")
        )
        pieces = []
        for k, length in enumerate(lengths):
            first, last = k == 0, k == count - 1
            piece = Note(
                id=note.id if first else f"{note.id}s{k + 1}",
                pitches=note.pitches,
                length=length,
                place=note.place,
                ties=note.ties if last else (False,) * len(note.pitches),
                graces=note.graces if first else (),
                slashed=note.slashed and first,
                slurs_open=note.slurs_open if first else 0,
                slurs_close=note.slurs_close if last else 0,
                decorations=(*(at_start if first else ()), *(at_end if last else ())),
                chord_symbol=note.chord_symbol if first else "",
                annotations=note.annotations if first else (),
                lyrics=note.lyrics if first else (),
                beamed=note.beamed if last else self._beamed and length < _QUARTER,
                explicit=note.explicit and first,
            )
            pieces.append(piece)
            if not first and note.id in self._soundings:
                self.added[piece.id] = self._soundings[note.id]
        return pieces

    def _slurred(self, pieces: list[Note]) -> list[Note]:
        """Under one slur, unless the note lies under one already."""
        if self._slurs or pieces[0].slurs_open:
            return pieces
        first, last = pieces[0], pieces[-1]
        pieces[0] = replace(first, slurs_open=1)
        pieces[-1] = replace(last, slurs_close=last.slurs_close + 1)
        return pieces

    def _triplet(self, note: Note) -> list[Note]:
        lengths = triplet_lengths(note.length)
        assert lengths is not None  # `plan` has seen to it
        pieces = self._split(note, lengths)
        return [
            replace(piece, tuplet=Tuplet(3, 2, first=k == 0, last=k == 2))
            for k, piece in enumerate(pieces)
        ]


def _decorated(note: Note, name: str) -> Note:
    return replace(note, decorations=(*note.decorations, name))
