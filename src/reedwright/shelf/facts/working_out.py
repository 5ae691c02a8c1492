"""The facts of a tune worked out from the tune alone.

Public: `facts_of`.
"""

from __future__ import annotations

from reedwright.shelf.facts.model import TuneFacts
from reedwright.shelf.facts.music import music_hash
from reedwright.tune.form import find_parts
from reedwright.tune.likeness.melody import MelodyNote, strips_of
from reedwright.tune.model import Change, Note, Tune
from reedwright.tune.playorder import EndlessTune
from reedwright.tune.rights import rights_line
from reedwright.tune.unfold import unfold


def facts_of(tune: Tune, untitled: str = "") -> TuneFacts:
    """Facts of the first voice. `untitled`: what to call a tune that has no title itself.

    A tune whose repeats multiply without end (`EndlessTune`) has no form, and as its melody
    what stands on the page.
    """
    try:
        performance = unfold(tune)
        melody = strips_of(performance)
        form = "".join(part.letter for part in find_parts(performance))
    except EndlessTune:
        melody, form = _as_written(tune), ""
    bars = tune.bars
    titles = tuple(filter(None, (" ".join(title.split()) for title in tune.titles)))
    pitches = tuple(sorted({note.midi for strip in melody for note in strip}))
    return TuneFacts(
        number=tune.number,
        title=titles[0] if titles else untitled or tune.title,
        titles=titles,
        type=tune.type,
        key=tune.key.name,
        tonic=-1 if tune.key.mode == "none" else tune.key.tonic_pitch_class,
        mode=tune.key.mode,
        metre=tune.meter.name,
        lowest=pitches[0] if pitches else 0,
        highest=pitches[-1] if pitches else 0,
        pitches=pitches,
        notes=sum(len(bar.notes) for bar in bars),
        bars=len({bar.number for bar in bars if bar.number}),
        form=form,
        composer="; ".join(text for text in tune.field_texts("C") if text),
        rights=rights_line(tune) or "",
        fields=tuple((field.code, field.text) for field in tune.fields),
        music=music_hash(tune),
        melody=tuple(tuple(strip) for strip in melody),
    )


def _as_written(tune: Tune) -> list[list[MelodyNote]]:
    """One strip: the notes once, in the order of the page."""
    strip: list[MelodyNote] = []
    now = 0.0
    tied: int | None = None
    for bar in tune.bars:
        for event in bar.events:
            if isinstance(event, Change):
                continue
            length = float(event.length)
            if isinstance(event, Note):
                midi = event.pitch.midi
                if midi == tied:
                    strip[-1] = strip[-1]._replace(length=strip[-1].length + length)
                else:
                    strip.append(MelodyNote(midi, now, length, bar.number))
                tied = midi if event.tied else None
            else:
                tied = None
            now += length
    return [strip] if strip else []
