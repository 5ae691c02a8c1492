"""The first notation of a tune: from what was heard to a tune and its ABC text.

Public: `transcribe`, `NothingHeard`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

from reedwright.errors import ReedwrightError
from reedwright.sound.hearing.model import Heard
from reedwright.takes.transcribing.cleaning import strokes_of
from reedwright.takes.transcribing.folding import fold
from reedwright.takes.transcribing.grid import extended, fits_of
from reedwright.takes.transcribing.keys import FoundKey, key_of
from reedwright.takes.transcribing.kinds import Kind, kinds_for
from reedwright.takes.transcribing.metre import Reading, readings_of, table_of
from reedwright.takes.transcribing.model import NotationWishes, Stroke, Transcription
from reedwright.takes.transcribing.placing import placed
from reedwright.takes.transcribing.sureness import (
    bar_sureness,
    comments,
    reading_sureness,
    remarks,
)
from reedwright.takes.transcribing.writing import written
from reedwright.tune.abc import read_abc, write_abc
from reedwright.tune.model import Bar, BarLine, Key, Meter, Note, Place, Tempo, Tune, Voice
from reedwright.tune.spelling import spelled

UNTITLED = "Untitled, transcribed"
QUAVER = Fraction(1, 2)
NO_NOTES = (
    "No notes were heard in this recording, so there is nothing to write down. Check that the "
    "playing is on it, loud and clear enough; `reedwright take` tells what is wrong with a sound."
)
FEW_NOTES = "Too few notes were heard to tell metre and tempo."
LEAST_NOTES = 6  # fewer tell nothing about metre
MOST_WEIGHED = 700  # notes on which metre and bar lines are weighed; some three minutes
PLAIN_TEMPO = 100.0  # quarter notes a minute, where one note is all there is


class NothingHeard(ReedwrightError):
    """There was no note in what was heard."""


def transcribe(heard: Heard, wishes: NotationWishes | None = None) -> Transcription:
    """Write down the tune of a take, however little of one there is in it.

    What `wishes` gives is taken as given; all else is estimated. The result reads back
    without a problem. Raises `NothingHeard` where there is not one note.
    """
    wishes = wishes or NotationWishes()
    strokes = strokes_of(heard)
    if not strokes:
        raise NothingHeard(NO_NOTES)
    if len(strokes) == 1:
        return _one_note(strokes[0], wishes)
    onsets = [stroke.start for stroke in strokes]
    kinds = kinds_for(wishes.type, wishes.meter)
    weighed = strokes[:MOST_WEIGHED]
    families = {table_of(kind).family for kind in kinds}
    fits = fits_of(onsets[:MOST_WEIGHED], families)
    readings = readings_of(weighed, fits, kinds, wishes.quarters_per_minute)
    best = _for_all(readings[0], onsets)
    notes, anacrusis = placed(strokes, best)
    line, sections, rounds = fold(notes, best.ticks, anacrusis)
    found = key_of(notes) if wishes.key is None else FoundKey(wishes.key, 1.0, "")
    bars, sources = written(line, sections, best.kind.meter, found.key)
    tempo = _tempo(best.quarters_per_minute, best.kind.meter)
    tune = _tune(wishes, best.kind, found.key, bars, tempo)
    read = _read(write_abc(tune))
    each = bar_sureness(read.bars, sources, line)
    meter_sureness, meter_doubt = reading_sureness(readings)
    if wishes.meter is not None or wishes.type:
        meter_doubt = ""
    told = remarks(
        each,
        best,
        meter_sureness,
        meter_doubt,
        found.key,
        found.sureness,
        found.other,
        rounds,
        heard.a4,
    )
    if len(strokes) < LEAST_NOTES:
        told = (FEW_NOTES, *told)
    abc = _with_comments(write_abc(tune), comments(each, told))
    mean = sum(bar.sureness for bar in each) / max(1, len(each))
    return Transcription(
        tune=_read(abc),
        abc=abc,
        bars=each,
        remarks=told,
        tempo=tempo,
        swing=best.swing,
        sureness=mean * meter_sureness,
        placed=tuple(notes),
        meter_sureness=meter_sureness,
        key_sureness=found.sureness,
        rounds=rounds,
    )


def _for_all(reading: Reading, onsets: Sequence[float]) -> Reading:
    """A reading of a long take's first notes, for all of them."""
    known = reading.fit.ticks
    if len(onsets) == len(known):
        return reading
    fit = extended(reading.fit, onsets)
    away = Counter(
        (int(old) - int(new)) % reading.ticks for old, new in zip(known, fit.ticks, strict=False)
    )
    (between, _), *_ = away.most_common(1)
    return reading._replace(fit=fit, shift=(reading.shift + between) % reading.ticks)


def _one_note(stroke: Stroke, wishes: NotationWishes) -> Transcription:
    """A bar that the note fills."""
    kind = kinds_for(wishes.type, wishes.meter)[0]
    key = wishes.key or Key()
    length = kind.meter.bar_length or Fraction(4)
    place = Place(1, 1)
    note = Note("n1", (spelled(stroke.midi, key),), length, place)
    bar = Bar(0, 1, (note,), key, kind.meter, place, closing=BarLine.FINAL)
    tempo = _tempo(wishes.quarters_per_minute or PLAIN_TEMPO, kind.meter)
    tune = _tune(wishes, kind, key, (bar,), tempo)
    abc = _with_comments(write_abc(tune), [f"% {FEW_NOTES}"])
    return Transcription(_read(abc), abc, (), (FEW_NOTES,), tempo, 1.0, 0.0)


def _tune(
    wishes: NotationWishes, kind: Kind, key: Key, bars: tuple[Bar, ...], tempo: Tempo
) -> Tune:
    return Tune(
        number="1",
        titles=(" ".join(wishes.title.split()) or UNTITLED,),
        key=key,
        meter=kind.meter,
        voices=(Voice("1", bars),),
        unit_length=QUAVER,
        tempo=tempo,
        type=kind.name,
    )


def _read(abc: str) -> Tune:
    (tune,) = read_abc(abc)
    assert isinstance(tune, Tune), abc
    return tune


def _with_comments(abc: str, lines: Sequence[str]) -> str:
    """The comments before the music, after the key."""
    head, key, rest = abc.partition("\nK:")
    field, _, music = rest.partition("\n")
    return "\n".join([head + key + field, *lines, music])


def _tempo(quarters_per_minute: float, meter: Meter) -> Tempo:
    """In the beats that are felt: minims in cut time, dotted crotchets in compound metres."""
    beat = Fraction(3, 2) if meter.compound else Fraction(2) if meter.unit == 2 else Fraction(1)
    return Tempo(beat, Fraction(max(1, round(quarters_per_minute / float(beat)))))
