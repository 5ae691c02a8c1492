"""Settings of a tune made by lot, for tests and benchmarks of the shelf.

Each kind of change is a function of a tune and a generator of chance; `varied` makes one to three
of them. A kind that a tune does not allow (a bar that cannot be cut in two) is left out, so the
kinds that were really done come back with the tune.

Public: `varied`, `varied_title`, `KINDS`, `SAME_MELODY`.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from reedwright.fifths import STEPS
from reedwright.tune.model import (
    Bar,
    BarLine,
    Change,
    Event,
    Field,
    Grace,
    Meter,
    Note,
    Pitch,
    Place,
    Rest,
    Tune,
    Voice,
)
from reedwright.tune.transpose import OutOfRange, transposed
from reedwright.tune.unfold import unfold
from reedwright.tune.writtenout import written_out

_PLACE = Place(1, 1)
_HIGHEST, _LOWEST = 93, 48  # A6 and C3: what variants stay within


class _NotPossible(Exception):
    """This tune does not allow this change."""


def _transposed(tune: Tune, chance: random.Random) -> Tune:
    return _moved(tune, chance.choice([s for s in range(-7, 8) if s]))


def _octave(tune: Tune, chance: random.Random) -> Tune:
    return _moved(tune, chance.choice((-12, 12)))


def _moved(tune: Tune, semitones: int) -> Tune:
    notes = [note.pitch.midi for note in tune.voices[0].notes]
    if max(notes) + semitones > _HIGHEST or min(notes) + semitones < _LOWEST:
        semitones = -semitones
    try:
        return transposed(tune, semitones)
    except OutOfRange:
        raise _NotPossible from None


def _halved(tune: Tune, chance: random.Random) -> Tune:
    return _scaled(tune, Fraction(1, 2))


def _doubled(tune: Tune, chance: random.Random) -> Tune:
    return _scaled(tune, Fraction(2))


def _scaled(tune: Tune, factor: Fraction) -> Tune:
    """All lengths, and the metres with them: 4/4 halved is 2/4, 6/8 halved is 6/16."""
    shortest = min(event.length for event in _sounding(tune))
    if not Fraction(1, 16) <= shortest * factor or (factor > 1 and tune.meter.unit < 4):
        raise _NotPossible

    def meter(old: Meter) -> Meter:
        if old.free:
            return old
        if factor < 1 and old.beats == (4,) and old.unit == 4:
            return Meter((2,), 4)
        if factor > 1 and old.beats == (2,) and old.unit == 4:
            return Meter((4,), 4)
        unit = old.unit / factor
        if unit.denominator != 1 if isinstance(unit, Fraction) else unit < 1:
            raise _NotPossible
        return Meter(old.beats, int(unit))

    def event(old: Event) -> Event:
        if isinstance(old, Change):
            return replace(old, meter=meter(old.meter) if old.meter else None)
        return replace(old, length=old.length * factor)

    def bar(old: Bar) -> Bar:
        layers = tuple(tuple(event(e) for e in layer) for layer in old.overlays)
        events = tuple(event(e) for e in old.events)
        return replace(old, events=events, overlays=layers, meter=meter(old.meter))

    return replace(_with_bars(tune, bar), meter=meter(tune.meter), tempo=None)


def _graces_dropped(tune: Tune, chance: random.Random) -> Tune:
    if not any(note.graces for note in tune.voices[0].notes):
        raise _NotPossible

    def event(old: Event) -> Event:
        return replace(old, graces=(), slashed=False) if isinstance(old, Note) else old

    return _with_events(tune, event)


def _graces_added(tune: Tune, chance: random.Random) -> Tune:
    """A grace note a step above (or a step below) about every sixth note."""

    def event(old: Event) -> Event:
        if not isinstance(old, Note) or old.graces or old.tuplet or chance.random() > 1 / 6:
            return old
        pitch = _stepped(old.pitch, chance.choice((1, 1, 1, 2, -1)), tune)
        return replace(old, graces=(Grace("", pitch, Fraction(1, 2), _PLACE),))

    return _with_events(tune, event)


def _notes_changed(tune: Tune, chance: random.Random) -> Tune:
    """From one note in thirty to one in ten goes a step or a third up or down."""
    share = chance.uniform(1 / 30, 1 / 10)
    changed = 0
    tied = False

    def event(old: Event) -> Event:
        nonlocal tied, changed
        if not isinstance(old, Note):
            return old
        was, tied = tied, any(old.ties)
        if was or tied or len(old.pitches) > 1 or chance.random() > share:
            return old
        changed += 1
        pitch = _stepped(old.pitch, chance.choice((-2, -1, -1, 1, 1, 2)), tune)
        return replace(old, pitches=(pitch,))

    found = _with_events(tune, event)
    if not changed:
        raise _NotPossible
    return found


def _divided(tune: Tune, chance: random.Random) -> Tune:
    """About every fifth longer note becomes two of the same pitch."""
    done = 0

    def bar(old: Bar) -> Bar:
        nonlocal done
        events: list[Event] = []
        for event in old.events:
            long = isinstance(event, Note) and event.tuplet is None and not any(event.ties)
            if long and event.length in (1, 2) and chance.random() < 1 / 5:
                assert isinstance(event, Note)
                half = event.length / 2
                events.append(replace(event, length=half, slurs_close=0))
                again = replace(event, id=event.id + "d", length=half, graces=(), decorations=())
                events.append(replace(again, slurs_open=0, chord_symbol="", annotations=()))
                done += 1
            else:
                events.append(event)
        return replace(old, events=tuple(events))

    found = _with_bars(_without_words(tune), bar)
    if not done:
        raise _NotPossible
    return found


def _joined_bars(tune: Tune, chance: random.Random) -> Tune:
    """Two bars become one: 2/4 as 4/4, 6/8 as 12/8."""
    meter = _only_meter(tune)
    longer = Meter((2 * sum(meter.beats),), meter.unit)
    bars: list[Bar] = []
    old = list(tune.bars)
    at = joins = 0
    while at < len(old):
        first = replace(old[at], meter=longer)
        following = old[at + 1] if at + 1 < len(old) else None
        if following is not None and _can_join(old[at], following):
            bars.append(
                replace(
                    first,
                    events=first.events + following.events,
                    closing=following.closing,
                    repeat_close=following.repeat_close,
                    ending_last=following.ending_last,
                    line_end=following.line_end,
                    marks=first.marks + following.marks,
                )
            )
            joins += 1
            at += 2
        else:
            bars.append(first)
            at += 1
    if joins < len(old) / 4:
        raise _NotPossible
    return _one_voice(replace(tune, meter=longer), bars)


def _can_join(bar: Bar, following: Bar) -> bool:
    full = bar.meter.bar_length
    plain = not (bar.repeat_close or bar.ending or bar.ending_last or bar.overlays)
    goes_on = not (following.repeat_open or following.ending or following.part is not None)
    return (
        plain
        and goes_on
        and not following.overlays
        and bar.closing is BarLine.SINGLE
        and bar.length == full == following.length
    )


def _cut_bars(tune: Tune, chance: random.Random) -> Tune:
    """Each bar becomes two: 4/4 as 2/4, 12/8 as 6/8; notes over the middle are tied."""
    meter = _only_meter(tune)
    if sum(meter.beats) % 2 or sum(meter.beats) < 4 or (meter.compound and sum(meter.beats) < 12):
        raise _NotPossible
    shorter = Meter((sum(meter.beats) // 2,), meter.unit)
    half = shorter.bar_length
    assert half is not None
    bars: list[Bar] = []
    for bar in tune.bars:
        if bar.length <= half or bar.overlays:
            if bar.overlays:
                raise _NotPossible
            bars.append(replace(bar, meter=shorter))
            continue
        # An anacrusis that is longer than half a bar ends at the bar line.
        first_length = half if bar.length == 2 * half or bar.index else bar.length - half
        first, second = _cut(bar.events, first_length)
        bars.append(
            replace(
                bar,
                events=first,
                meter=shorter,
                closing=BarLine.SINGLE,
                repeat_close=0,
                ending_last=False,
                line_end=False,
            )
        )
        rest = replace(bar, events=second, meter=shorter, repeat_open=False, ending=())
        bars.append(replace(rest, part=None, marks=(), opening=BarLine.NONE))
    return _one_voice(replace(_without_words(tune), meter=shorter), bars)


def _cut(events: tuple[Event, ...], at: Fraction) -> tuple[tuple[Event, ...], tuple[Event, ...]]:
    first: list[Event] = []
    second: list[Event] = []
    now = Fraction(0)
    for event in events:
        length = Fraction(0) if isinstance(event, Change) else event.length
        if now >= at:
            second.append(event)
        elif now + length <= at:
            first.append(event)
        else:
            if isinstance(event, Change) or event.tuplet is not None:
                raise _NotPossible
            before = at - now
            if isinstance(event, Rest):
                first.append(replace(event, length=before, whole_bar=False))
                second.append(replace(event, length=length - before, whole_bar=False))
            else:
                tied = (True,) * len(event.pitches)
                first.append(replace(event, length=before, ties=tied, slurs_close=0))
                rest = replace(event, id=event.id + "c", length=length - before, graces=())
                second.append(replace(rest, decorations=(), slurs_open=0, chord_symbol=""))
        now += length
    if not second or not first:
        raise _NotPossible
    return tuple(first), tuple(second)


def _written_out(tune: Tune, chance: random.Random) -> Tune:
    if len(unfold(tune).bars) == len(tune.bars):
        raise _NotPossible
    return written_out(_without_words(tune))


KINDS: dict[str, tuple[Callable[[Tune, random.Random], Tune], float]] = {
    "transposed": (_transposed, 5),
    "octave": (_octave, 2),
    "halved": (_halved, 2),
    "doubled": (_doubled, 2),
    "graces-added": (_graces_added, 3),
    "graces-dropped": (_graces_dropped, 3),
    "notes-changed": (_notes_changed, 3),
    "divided": (_divided, 2),
    "joined-bars": (_joined_bars, 2),
    "cut-bars": (_cut_bars, 2),
    "written-out": (_written_out, 1),
}
"""What is done, and how often beside the others."""

SAME_MELODY = frozenset(KINDS) - {"notes-changed", "divided"}
"""Kinds that leave every melody note what it is, but for height, length and bar lines."""


def varied(
    tune: Tune, chance: random.Random, kinds: tuple[str, ...] = ()
) -> tuple[Tune, tuple[str, ...]] | None:
    """The first voice of a tune changed by lot (or by `kinds`), and the kinds that were done.

    None where the tune allowed none of them.
    """
    wanted = kinds
    if not wanted:
        names, weights = list(KINDS), [weight for _, weight in KINDS.values()]
        count = chance.choice((1, 1, 2, 2, 3))
        wanted = tuple(dict.fromkeys(chance.choices(names, weights, k=count)))
    found = replace(tune, voices=tune.voices[:1], problems=())
    done: list[str] = []
    for kind in sorted(wanted, key=list(KINDS).index):
        if kind == "doubled" and "halved" in done:
            continue
        try:
            found = KINDS[kind][0](found, chance)
        except _NotPossible:
            continue
        done.append(kind)
    return (found, tuple(done)) if done else None


# -- titles ---------------------------------------------------------------------------------

_INVENTED = (
    "Gleave", "Tarrow", "Milder", "Quenby", "Fossick", "Larnan", "Widdern", "Corrib's", "Skelloch",
    "Brannoch", "Pell", "Tinwhistle", "Harrow", "Ewe", "Salt", "Lantern", "Miller's", "Piper's",
    "Weaver's", "Ferry", "Loan", "Moss", "Quay", "Rookery", "Threshold", "Candle", "Morning",
)  # fmt: skip
_ACCENTS = {"a": "áàâå", "e": "éèê", "i": "íî", "o": "óöø", "u": "úü", "n": "ñ", "c": "ç"}


def varied_title(title: str, chance: random.Random) -> str:
    """The title, a misspelling of it, `The` moved, an accent, or quite another one."""
    way = chance.choice(("same", "same", "typo", "typo", "the", "accent", "case", "invented"))
    if way == "invented" or not title.strip():
        words = chance.sample(_INVENTED, k=chance.choice((2, 2, 3)))
        return "The " + " ".join(words)
    if way == "the":
        if title.startswith("The "):
            return title[4:] + ", The"
        return title[:-5] if title.endswith(", The") else "The " + title
    if way == "case":
        return chance.choice((title.upper(), title.lower()))
    places = [at for at, letter in enumerate(title) if letter.isalpha()]
    if way == "same" or len(places) < 4:
        return title
    at = chance.choice(places[1:])
    if way == "accent":
        accents = _ACCENTS.get(title[at].lower())
        return title[:at] + chance.choice(accents) + title[at + 1 :] if accents else title
    letter = title[at]
    typo = chance.choice((letter * 2, "", title[at - 1 : at + 1][::-1]))
    return title[:at] + typo + title[at + 1 :]


# -- small tools ----------------------------------------------------------------------------


def _sounding(tune: Tune) -> list[Note | Rest]:
    return [e for bar in tune.bars for e in bar.events if not isinstance(e, Change)]


def _with_events(tune: Tune, change: Callable[[Event], Event]) -> Tune:
    return _with_bars(tune, lambda bar: replace(bar, events=tuple(change(e) for e in bar.events)))


def _with_bars(tune: Tune, change: Callable[[Bar], Bar]) -> Tune:
    return _one_voice(tune, [change(bar) for bar in tune.bars])


def _one_voice(tune: Tune, bars: list[Bar]) -> Tune:
    numbered = tuple(replace(bar, index=at) for at, bar in enumerate(bars))
    return replace(tune, voices=(Voice("1", numbered),))


def _without_words(tune: Tune) -> Tune:
    """Syllables would no longer stand under their notes."""
    return _with_events(tune, lambda e: replace(e, lyrics=()) if isinstance(e, Note) else e)


def _only_meter(tune: Tune) -> Meter:
    meters = {bar.meter for bar in tune.bars}
    changes = any(
        isinstance(e, Change) and e.meter is not None for bar in tune.bars for e in bar.events
    )
    if len(meters) != 1 or changes or tune.meter.free or any(bar.overlays for bar in tune.bars):
        raise _NotPossible
    return tune.meter


def _stepped(pitch: Pitch, steps: int, tune: Tune) -> Pitch:
    """So many steps of the tune's key higher."""
    place = STEPS.index(pitch.step) + 7 * pitch.octave + steps
    octave, step = divmod(place, 7)
    return Pitch(STEPS[step], tune.key.alteration(STEPS[step]), octave)


def renamed(tune: Tune, number: int, title: str) -> Tune:
    """The tune under another number and title."""
    others = tuple(field for field in tune.fields if field.code != "T")
    fields = (Field("T", title, _PLACE), *others)
    return replace(tune, number=str(number), titles=(title, *tune.titles[1:]), fields=fields)
