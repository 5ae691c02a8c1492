"""Some bars of an arrangement as a loop: counted in once, then round after round in time.

The excerpt is an arrangement of its own whose tune is those bars with a repeat sign, so all
that plays, times or writes a tune does so with a loop too. Written ties and slurs out of the
bars, holds, and what leads elsewhere (endings, signs) are left behind, so that every round lasts
the same and the next begins where a bar would.

Public: `excerpt`, `loop_tempo`, `loop_timeline`, `round_length`, `NoSuchBars`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from reedwright.errors import ReedwrightError
from reedwright.sound.events import Timeline
from reedwright.sound.lilt import Lilt
from reedwright.sound.timing import plan
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.words import bars_text
from reedwright.tune.model import Bar, BarLine, Change, Event, Note, Tempo, Tune, Voice
from reedwright.tune.tempo import quarters_per_minute, tempo_of

HOLDS = ("fermata", "invertedfermata")  # decorations that stop the clock


class NoSuchBars(ReedwrightError):
    """Bars were asked for that the tune has not."""


def excerpt(arrangement: Arrangement, first: int, last: int, rounds: int) -> Arrangement:
    """The bars from index `first` to `last` of the voice, played `rounds` times.

    Its tune has the tempo that holds where the bars stand. Raises `NoSuchBars`.
    """
    tune = arrangement.tune
    voice = tune.voices[arrangement.voice]
    if not 0 <= first <= last < len(voice.bars) or rounds < 1:
        raise NoSuchBars(
            f"{tune.title}: no bars from {first} to {last} to play {rounds} times; "
            f"the tune has bars 0 to {len(voice.bars) - 1}, counted as they stand."
        )
    tempo = _tempo_at(tune, voice.bars[:first])
    bars = _looped(voice.bars[first : last + 1], rounds, tempo)
    name = bars_text(bar.number for bar in bars)
    looped = replace(
        tune,
        titles=(f"{tune.title}, {name}",),
        key=bars[0].key,
        meter=bars[0].meter,
        tempo=tempo,
        part_order=(),
        voices=(Voice(voice.name, bars, voice.title),),
    )
    ids = {note.id for bar in bars for note in bar.notes}
    return replace(
        arrangement,
        tune=looped,
        voice=0,
        undressed=None,
        ornaments=tuple(each for each in arrangement.ornaments if each.note_id in ids),
        breaths=tuple(each for each in arrangement.breaths if each.note_id in ids),
        missing=tuple(each for each in arrangement.missing if each.id in ids),
        effort=0.0,
        parts_of_effort={},
        notes_played=0,
    )


def loop_tempo(arrangement: Arrangement, loop: Arrangement, tempo: float | None) -> float:
    """Quarter notes a minute of an excerpt at full speed, when the whole is played at `tempo`.

    A tune asked for faster or slower keeps the proportions of its changes (see `clock`).
    """
    own = quarters_per_minute(arrangement.tune)
    return quarters_per_minute(loop.tune) * (own if tempo is None else tempo) / own


def loop_timeline(
    arrangement: Arrangement,
    first: int,
    last: int,
    rounds: int,
    tempo: float | None = None,
    speed: float = 1.0,
    lilt: Lilt | bool = True,
) -> Timeline:
    """When all of a loop is heard: one bar of count-in, then the rounds. As `timing.plan`."""
    loop = excerpt(arrangement, first, last, rounds)
    return plan(loop, loop_tempo(arrangement, loop, tempo), speed, lilt)


def _tempo_at(tune: Tune, before: Sequence[Bar]) -> Tempo:
    """The tempo that holds after these bars as they stand on the page."""
    tempo = tempo_of(tune)
    for bar in before:
        for event in bar.events:
            if isinstance(event, Change) and event.tempo and event.tempo.quarters_per_minute:
                tempo = event.tempo
    return tempo


def _looped(bars: Sequence[Bar], rounds: int, tempo: Tempo) -> tuple[Bar, ...]:
    found = []
    depth = 0
    final = len(bars) - 1
    changes = any(isinstance(event, Change) and event.tempo for bar in bars for event in bar.events)
    for k, bar in enumerate(bars):
        events: list[Event] = []
        for event in bar.events:
            if isinstance(event, Note):
                depth = max(0, depth + event.slurs_open - event.slurs_close)
                kept = tuple(each for each in event.decorations if each not in HOLDS)
                if kept != event.decorations:
                    event = replace(event, decorations=kept)
            events.append(event)
        if k == 0 and changes:
            events.insert(0, Change(bar.place, tempo=tempo))  # each round begins as the first
        if k == final:
            _close(events, depth)
        found.append(
            replace(
                bar,
                index=k,
                events=tuple(events),
                opening=BarLine.NONE,
                closing=BarLine.FINAL if k == final else BarLine.SINGLE,
                repeat_open=k == 0 and rounds > 1,
                repeat_close=rounds if k == final and rounds > 1 else 0,
                ending=(),
                ending_last=False,
                part=None,
                marks=(),
                line_end=False,
            )
        )
    return tuple(found)


def _close(events: list[Event], depth: int) -> None:
    """End ties and slurs with the last note: the next round is played anew."""
    for at in range(len(events) - 1, -1, -1):
        event = events[at]
        if isinstance(event, Note):
            events[at] = replace(
                event,
                ties=(False,) * len(event.ties),
                slurs_close=event.slurs_close + depth,
            )
            return


def round_length(loop: Arrangement) -> Fraction:
    """Quarter notes in one round."""
    return sum((bar.length for bar in loop.tune.bars), Fraction(0))
