"""A planned tune arranged: on its harp, or on the one that it lies best on.

Public: `arranged`, `arranged_and_told`.
"""

from __future__ import annotations

from dataclasses import replace

from reedwright.pack.book.model import PlannedTune
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.best import easiest
from reedwright.tab.choices import resolve
from reedwright.tab.wishes import Wishes

OCTAVES = (-1, 0, 1)
"""By which a tune may be moved where the plan does not say."""


def arranged(planned: PlannedTune) -> Arrangement:
    """The tune on the harp that the plan names, else on the one (of `harps`) that it lies best on.

    On a harp that is named the tune stays in its octave unless the plan moves it. Raises `NoHarp`,
    `OutOfRange`, `EndlessTune`, `NotOnHarp`.
    """
    return arranged_and_told(planned)[0]


def arranged_and_told(planned: PlannedTune) -> tuple[Arrangement, tuple[str, ...]]:
    """The same, with a sentence for each choice that found no note or cannot be on this harp."""
    harp, octaves = planned.harp, planned.octaves or 0
    if harp is None:
        best = easiest(
            planned.tune,
            planned.player,
            planned.harps,
            planned.voice,
            OCTAVES if planned.octaves is None else (planned.octaves,),
            planned.tempo,
            planned.semitones,
        )
        harp, octaves = best.harp, best.octaves
    wishes = planned.wishes
    notices: tuple[str, ...] = ()
    if planned.choices is not None:
        choices = replace(
            planned.choices,
            amount=planned.choices.amount or wishes.amount,
            second_time=planned.choices.second_time or wishes.second_time,
        )
        resolved = resolve(choices, planned.tune, harp, planned.voice, octaves, planned.semitones)
        wishes, notices = _both(wishes, resolved.wishes), resolved.notices
    arrangement = arrange(
        planned.tune,
        harp,
        planned.player,
        voice=planned.voice,
        octaves=octaves,
        semitones=planned.semitones,
        quarters_per_minute=planned.tempo,
        wishes=wishes,
    )
    return arrangement, notices


def _both(general: Wishes, chosen: Wishes) -> Wishes:
    """What was chosen by hand goes before the rest."""
    return replace(
        chosen,
        fixed={**general.fixed, **chosen.fixed},
        forbidden={**general.forbidden, **chosen.forbidden},
        ornaments={**general.ornaments, **chosen.ornaments},
        breaths={**general.breaths, **chosen.breaths},
    )
