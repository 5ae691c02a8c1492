"""Whether two tunes are the same music, wherever they were read from."""

from __future__ import annotations

from dataclasses import replace

from reedwright.tune.model import Bar, BarLine, Change, Event, Field, Note, Place, Tune, Voice

NOWHERE = Place(0, 0)
# Fields of the same text in both; the others are compared by what they mean.
_BY_MEANING = frozenset("XTKMLQPVmI")


def normal_form(tune: Tune) -> Tune:
    """The tune without what depends on how it was written down.

    Left out: places, source and its text, problems, source lines (`line_end`), whether
    an accidental was written where none is needed, and fields that the model holds
    in another form.
    """
    fields = tuple(Field(f.code, f.text, NOWHERE) for f in tune.fields if f.code not in _BY_MEANING)
    voices = tuple(
        Voice(v.name, tuple(_bar(v.bars, at) for at in range(len(v.bars))), v.title)
        for v in tune.voices
    )
    return replace(
        tune,
        number=tune.number or "1",
        fields=fields,
        voices=voices,
        problems=(),
        source="",
        text="",
    )


def same_music(one: Tune, other: Tune) -> bool:
    """Whether both tunes are equal in their normal form."""
    return normal_form(one) == normal_form(other)


def _bar(bars: tuple[Bar, ...], at: int) -> Bar:
    bar = bars[at]
    following = bars[at + 1] if at + 1 < len(bars) else None
    closing = bar.closing
    open_end = following is not None and following.ending and not following.repeat_open
    open_end = open_end and following is not None and following.part is None
    if closing is BarLine.NONE and (bar.repeat_close or not open_end):
        closing = BarLine.SINGLE
    if closing is BarLine.DOTTED and bar.repeat_close:
        closing = BarLine.SINGLE
    return replace(
        bar,
        events=tuple(_event(e) for e in bar.events),
        overlays=tuple(tuple(_event(e) for e in layer) for layer in bar.overlays),
        place=NOWHERE,
        closing=closing,
        opening=bar.opening if at == 0 else BarLine.NONE,
        line_end=False,
        marks=tuple(sorted(bar.marks)),
    )


def _event(event: Event) -> Event:
    if isinstance(event, Note):
        return replace(
            event,
            place=NOWHERE,
            explicit=False,
            graces=tuple(replace(g, place=NOWHERE) for g in event.graces),
        )
    if isinstance(event, Change):
        return replace(event, place=NOWHERE)
    return replace(event, place=NOWHERE)
