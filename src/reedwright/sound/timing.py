"""When everything is heard: an arrangement becomes a `Timeline` in seconds.

Public: `plan`.
"""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from fractions import Fraction
from math import ceil
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.harp.expression import expression_of
from reedwright.harp.model import Harp, Reed, Sounding
from reedwright.harp.naming import frequency
from reedwright.sound.clock import Clock, tempi_of
from reedwright.sound.events import BarStart, Click, Onset, SoundedNote, Span, Timeline
from reedwright.sound.lilt import STRAIGHT, Lilt, Warp, lilt_of, warp_of
from reedwright.sound.metre import count_in as count_in_clicks
from reedwright.sound.metre import stress
from reedwright.sound.ornaments import SLIDE_MOST, SLIDE_SHARE, Stretch, cut_seconds, shaken
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath.model import BreathReason
from reedwright.tab.ornaments.model import OrnamentKind
from reedwright.tune.model import Note
from reedwright.tune.tempo import quarters_per_minute
from reedwright.tune.unfold import Performance, PlayedNote, unfold

LEAD = 0.1  # seconds of silence before the first sound
RING = 1.2  # seconds after the last note, for the room to die away
# Tracks last a whole number of MP3 frames: the one length that every coder keeps exactly.
DURATION_STEP = 1152 / 44_100
SLOWEST, FASTEST = 10.0, 1000.0  # quarter notes a minute

# Silence between tongued notes: a share of the note, at most so many seconds (common
# practice: the tongue only touches). A note that comes again needs a clearer stop.
GAP_SHARE, GAP_MOST = 0.10, 0.022
REPEAT_GAP_SHARE, REPEAT_GAP_MOST = 0.18, 0.045
STACCATO_SHARE = 0.5
MOST_FOR_BREATH = 0.5  # of a note goes to the breath after it
CUT_SOFTER = 0.9  # a cut is a touch: its velocity as a share of its note's

GLIDE_MOST, GLIDE_SHARE = 0.09, 0.35  # a bend arrives after so many seconds, or this share
SCOOP_MOST = 100.0  # cents above the target where a bend begins from nowhere


class CutPlace(StrEnum):
    """Where cuts take their time from."""

    ON_BEAT = "on the beat"  # from their own note
    BEFORE = "before the beat"  # from the note before


def plan(
    arrangement: Arrangement,
    tempo: float | None = None,
    speed: float = 1.0,
    lilt: Lilt | bool = True,
    count_in: bool = True,
    cuts: CutPlace = CutPlace.ON_BEAT,
) -> Timeline:
    """Time every note of the tune as played.

    `tempo` is in quarter notes a minute (None: the tune's own, or what is usual for its
    type); `speed` multiplies it. `lilt`: True for the type's usual one, False for
    straight, or one of your own. Chords sound their melody note. Raises
    `ReedwrightError` for a tempo that nobody plays.
    """
    tune = arrangement.tune
    performance = unfold(tune, arrangement.voice)
    own = quarters_per_minute(tune)
    start_tempo = own if tempo is None else tempo
    if not SLOWEST <= start_tempo * speed <= FASTEST:
        raise ReedwrightError(
            f"Tempo of {start_tempo * speed:g} quarter notes a minute: "
            f"choose one from {SLOWEST:g} to {FASTEST:g}."
        )
    usual = lilt_of(tune)
    feel = (
        lilt
        if isinstance(lilt, Lilt)
        else usual
        if lilt
        else usual._replace(even=STRAIGHT.even, dotted=STRAIGHT.dotted, compound=STRAIGHT.compound)
    )
    tempi = tempi_of(performance, start_tempo, own)
    clock = Clock(performance, tempi, speed)
    clicks = count_in_clicks(performance, feel, clock) if count_in else ()
    offset = LEAD - min(0.0, *(click.time for click in clicks), 0.0)
    strokes = _strokes(performance, warp_of(performance, feel), clock, offset)
    notes, spans = _Players(arrangement, feel, cuts).play(strokes)
    last = max((note.span.end for note in notes), default=offset)
    return Timeline(
        title=tune.title,
        notes=tuple(notes),
        clicks=tuple(Click(click.time + offset, click.strong) for click in clicks),
        spans={key: tuple(value) for key, value in spans.items()},
        bars=tuple(
            BarStart(played.onset, played.bar.key, played.bar.meter, played.bar.length)
            for played in performance.bars
        ),
        tempi=tempi,
        length=performance.length,
        tune_start=offset,
        duration=_whole_frames(max(last, offset + clock(float(performance.length))) + RING),
        speed=speed,
        lilt="" if feel.straight else feel.name,
    )


def _whole_frames(seconds: float) -> float:
    return ceil(seconds / DURATION_STEP) * DURATION_STEP


class _Stroke(NamedTuple):
    """One sounded note with its ties joined.

    `members`: each written note of the tie. `breath`: a breath is taken after it.
    """

    played: PlayedNote
    span: Span
    length: Fraction
    members: tuple[tuple[str, Span], ...]
    slurred: bool
    slur_goes_on: bool
    breath: bool


def _strokes(performance: Performance, warp: Warp, clock: Clock, offset: float) -> list[_Stroke]:
    strokes: list[_Stroke] = []
    depth = 0
    for played in performance.notes:
        note = played.note
        end_at = played.onset + note.length
        span = Span(offset + clock(warp(played.onset)), offset + clock(warp(end_at)))
        inside = depth > 0
        breath = "breath" in note.decorations
        depth = max(0, depth + note.slurs_open - note.slurs_close)
        if played.held and strokes:
            last = strokes[-1]
            strokes[-1] = last._replace(
                span=Span(last.span.start, span.end),
                length=last.length + note.length,
                members=(*last.members, (note.id, span)),
                slur_goes_on=depth > 0,
                breath=breath,
            )
        else:
            members = ((note.id, span),)
            strokes.append(_Stroke(played, span, note.length, members, inside, depth > 0, breath))
    return strokes


class _Players:
    """Plays the strokes of one arrangement one after another."""

    def __init__(self, arrangement: Arrangement, lilt: Lilt, cuts: CutPlace) -> None:
        self._harp: Harp = arrangement.harp
        self._soundings = arrangement.soundings
        self._warbles = {
            each.note_id: each.touched[0]
            for each in arrangement.ornaments
            if each.kind is OrnamentKind.WARBLE and each.touched
        }
        self._dropped = {
            mark.note_id for mark in arrangement.breaths if mark.reason is BreathReason.DROPPED_NOTE
        }
        self._breath_seconds = arrangement.player.lungs.breath_seconds
        self._lilt = lilt
        self._cuts = cuts
        self._notes: list[SoundedNote] = []
        self._spans: dict[str, list[Span]] = {}

    def play(self, strokes: list[_Stroke]) -> tuple[list[SoundedNote], dict[str, list[Span]]]:
        for k, stroke in enumerate(strokes):
            self._play_one(stroke, strokes[k + 1] if k + 1 < len(strokes) else None)
        return self._notes, self._spans

    def _play_one(self, stroke: _Stroke, following: _Stroke | None) -> None:
        for id_, span in stroke.members:
            self._spans.setdefault(id_, []).append(span)
        note = stroke.played.note
        if note.id in self._dropped:
            return
        sounding = self._soundings.get(note.id)
        velocity = stress(stroke.played, self._lilt)
        start = self._play_cuts(stroke, velocity)
        end = self._end(stroke, sounding, following)
        for stretch in self._stretches(note, sounding, Span(start, end)):
            self._sound(stroke, stretch, note.id, velocity)

    def _stretches(self, note: Note, sounding: Sounding | None, span: Span) -> list[Stretch]:
        """The note whole, or shaken with the hole of its warble."""
        other = self._warbles.get(note.id)
        if other is None or sounding is None:
            return [Stretch(span, sounding, False)]
        return shaken(span, sounding, other)

    def _play_cuts(self, stroke: _Stroke, velocity: float) -> float:
        """Sound the grace notes; when the note itself then starts."""
        graces = stroke.played.note.graces
        start = stroke.span.start
        if not graces:
            return start
        room = stroke.span.end - start
        if self._cuts is CutPlace.BEFORE and self._notes:
            room = min(room, start - self._notes[-1].span.start)
        each = cut_seconds(room, len(graces))
        if self._cuts is CutPlace.BEFORE:
            now = max(0.0, start - each * len(graces))
            self._shorten_last(now)
        else:
            now, start = start, start + each * len(graces)
        for grace in graces:
            span = Span(now, now + each)
            self._spans.setdefault(grace.id, []).append(span)
            sounding = self._soundings.get(grace.id)
            midi = sounding.midi if sounding else grace.pitch.midi
            self._append(
                grace.id,
                midi,
                span,
                sounding,
                velocity * CUT_SOFTER,
                self._onset(stroke, span),
                True,
                (stroke.played.onset, Fraction(0)),
            )
            now += each
        return start

    def _shorten_last(self, end: float) -> None:
        if self._notes and self._notes[-1].span.end > end:
            last = self._notes[-1]
            self._notes[-1] = replace(last, span=Span(last.span.start, end))

    def _end(self, stroke: _Stroke, sounding: Sounding | None, following: _Stroke | None) -> float:
        start, end = stroke.span
        if stroke.breath:
            return end - min(self._breath_seconds, MOST_FOR_BREATH * (end - start))
        if "staccato" in stroke.played.note.decorations:
            return start + STACCATO_SHARE * (end - start)
        if following is None or "tenuto" in stroke.played.note.decorations:
            return end
        then = self._soundings.get(following.played.note.id)
        again = then is not None and then == sounding and not following.played.note.graces
        if again:
            return end - min(REPEAT_GAP_MOST, REPEAT_GAP_SHARE * (end - start))
        if stroke.slur_goes_on:
            return end
        return end - min(GAP_MOST, GAP_SHARE * (end - start))

    def _sound(self, stroke: _Stroke, stretch: Stretch, id_: str, velocity: float) -> None:
        midi = stretch.sounding.midi if stretch.sounding else stroke.played.note.pitch.midi
        self._append(
            id_,
            midi,
            stretch.span,
            stretch.sounding,
            velocity * (CUT_SOFTER if stretch.quick else 1.0),
            self._onset(stroke, stretch.span),
            stretch.quick,
            (stroke.played.onset, Fraction(0) if stretch.quick else stroke.length),
            slid="slide" in stroke.played.note.decorations,
        )

    def _onset(self, stroke: _Stroke, span: Span) -> Onset:
        """Slurred within a slur, and from a cut or within a roll, where breath flows on."""
        last = self._notes[-1] if self._notes else None
        if last is None or last.span.end < span.start - 1e-6:
            return Onset.TONGUED
        inside = span.start > stroke.span.start + 1e-6 or last.is_grace
        return Onset.SLURRED if stroke.slurred or inside else Onset.TONGUED

    def _append(
        self,
        id_: str,
        midi: int,
        span: Span,
        sounding: Sounding | None,
        velocity: float,
        onset: Onset,
        is_grace: bool,
        quarters: tuple[Fraction, Fraction],
        slid: bool = False,
    ) -> None:
        note = SoundedNote(
            id=id_,
            midi=midi,
            frequency=frequency(midi, self._harp.a4),
            span=span,
            sounding=sounding,
            isolated=sounding is not None
            and Reed(sounding.hole, sounding.breath) in self._harp.isolated,
            bendable=sounding is not None and expression_of(self._harp, sounding).vibrato,
            velocity=velocity,
            onset=onset,
            is_grace=is_grace,
            quarters=quarters,
        )
        self._notes.append(self._gliding(note, slid))

    def _gliding(self, note: SoundedNote, slid: bool) -> SoundedNote:
        """Bends come down from the reed's own pitch, or on from a bend held before.

        A note that is slid into comes up from its bend.
        """
        sounding = note.sounding
        if sounding is None:
            return note
        if slid and not sounding.bend:
            return replace(
                note,
                glide_from=-SCOOP_MOST,
                glide_time=min(SLIDE_MOST, SLIDE_SHARE * note.seconds),
            )
        last = self._notes[-1] if self._notes else None
        held = (
            last is not None
            and last.sounding is not None
            and last.sounding.hole == sounding.hole
            and last.sounding.breath is sounding.breath
            and last.sounding.bend != sounding.bend
            and last.span.end > note.span.start - GAP_MOST - 1e-6
        )
        if held and last is not None:
            cents = 100.0 * (last.midi - note.midi)
        elif sounding.bend and not note.is_grace:
            cents = min(SCOOP_MOST, 100.0 * sounding.bend)
        else:
            return note
        return replace(
            note, glide_from=cents, glide_time=min(GLIDE_MOST, GLIDE_SHARE * note.seconds)
        )
