"""The first part of a tune, cut off from the rest: what is shown of a tune that is sold.

The rest is really gone, from the notes, from the source text and from what is made of them.

Public: `first_part`, `wishes_within`.
"""

from __future__ import annotations

from dataclasses import replace

from reedwright.tab.wishes import Wishes
from reedwright.tune.form import find_parts
from reedwright.tune.model import BarLine, Tune, Voice
from reedwright.tune.unfold import unfold
from reedwright.tune.writtenout import written_out


def first_part(tune: Tune, voice: int = 0) -> Tune:
    """The bars of the part that is played first, with its repeat and endings, and no others.

    A tune of one part alone is cut in half. Its other voices are left out, and so is its text.
    """
    bars = tune.voices[voice].bars
    heard = _first_bars(tune, voice)
    # Counted anew: the part that is played first need not stand first.
    kept = [
        replace(bar, index=index)
        for index, bar in enumerate(bar for bar in bars if bar.index in heard)
    ]
    if kept and kept[-1].closing in (BarLine.SINGLE, BarLine.NONE) and not kept[-1].repeat_close:
        kept[-1] = replace(kept[-1], closing=BarLine.DOUBLE)
    alone = Voice(tune.voices[voice].name, tuple(kept), tune.voices[voice].title)
    return replace(
        tune,
        voices=(alone,),
        part_order=(),
        problems=(),
        fields=tuple(field for field in tune.fields if field.code not in ("W", "P")),
        text="",
    )


def wishes_within(wishes: Wishes, tune: Tune) -> Wishes:
    """What is wished of notes that the tune has; it was cut from the one that they are for."""
    heard = written_out(tune, 0) if wishes.second_time else tune
    there = {note.id for note in heard.voices[0].notes}
    return replace(
        wishes,
        fixed={id_: way for id_, way in wishes.fixed.items() if id_ in there},
        forbidden={id_: ways for id_, ways in wishes.forbidden.items() if id_ in there},
        ornaments={id_: kind for id_, kind in wishes.ornaments.items() if id_ in there},
        breaths={id_: breathe for id_, breathe in wishes.breaths.items() if id_ in there},
    )


def _first_bars(tune: Tune, voice: int) -> set[int]:
    """The indexes of the written bars of the first part."""
    performance = unfold(tune, voice)
    bars = tune.voices[voice].bars
    parts = find_parts(performance)
    if parts:
        end = 0.0
        for part in parts:
            if part.letter[0] != parts[0].letter[0]:
                break
            end = part.onset + part.length
        heard = {
            played.bar.index for played in performance.bars if float(played.onset) < end - 1e-6
        }
        if len(heard) < len(bars):
            return heard
    return {bar.index for bar in bars[: max(1, (len(bars) + 1) // 2)]}
