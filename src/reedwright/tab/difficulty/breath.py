"""Awkward breath: how far the lungs must fill or empty within a phrase, whatever the fingering.

A note that this harp gives this player in one breath only moves the lungs that way; where
there is a choice, and in rests, it is taken as the player would wish. What then is left is a
fact of tune, harp and player, the same for every tab and every tempo: seconds count at the
tempo that is usual for the kind of tune. Rates are those of plain notes in `player.lungs`.

Public: `Strain`, `forced_strain`, `strain_work`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from reedwright.harp.model import Breath
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.ways import usable_ways
from reedwright.tune.tempo import default_tempo
from reedwright.tune.unfold import unfold

PHRASE_BARS = 8
"""Longest stretch that is looked at, bars as played: players breathe anew between parts."""

# Effort a second added for each comfortable lungful that must be let go or snatched within
# such a stretch, and the most that is added (assumptions: judgement, no source).
WORK_A_LUNGFUL = 0.4
MOST_WORK = 2.0


class Strain(NamedTuple):
    """The worst stretch: `litres` that at least come in (`DRAW`) or go out (`BLOW`) on balance.

    `comfortable` are the litres that this player has at ease to that side. `seconds` is how
    long the stretch is at the usual tempo, `bars` its printed numbers as played.
    """

    breath: Breath
    litres: float
    comfortable: float
    seconds: float
    bars: tuple[int, ...]


def forced_strain(arrangement: Arrangement) -> Strain | None:
    """The stretch of at most `PHRASE_BARS` bars that strains most; None where nothing is forced."""
    tune, lungs = arrangement.plain, arrangement.player.lungs
    performance = unfold(tune, arrangement.voice)
    if not performance.notes:
        return None
    ways = usable_ways(arrangement.harp, arrangement.player)
    quarter = 60.0 / float(default_tempo(tune).quarters_per_minute or 100)
    signed = {Breath.BLOW: -lungs.blow_rate, Breath.DRAW: lungs.draw_rate}
    least, most, seconds, rests, places = [], [], [], [], []
    starts = [float(played.onset) for played in performance.bars]
    end = performance.notes[0].onset
    for play in performance.notes:
        lasting = float(play.note.length) * quarter
        breaths = {way.breath for way in ways.get(play.note.pitch.midi, ())}
        flows = [signed[breath] * lasting for breath in breaths] or [0.0]
        least.append(min(flows))
        most.append(max(flows))
        rests.append(max(0.0, float(play.onset - end)) * quarter * lungs.rest_rate)
        seconds.append(lasting)
        places.append(int(np.searchsorted(starts, float(play.onset), side="right")) - 1)
        end = play.onset + play.note.length
    worst: Strain | None = None
    for breath, gains in ((Breath.DRAW, least), (Breath.BLOW, [-flow for flow in most])):
        litres, first, last = _worst(gains, rests, places)
        if litres > 0 and (worst is None or litres > worst.litres):
            numbers = [
                performance.bars[k].bar.number for k in range(places[first], places[last] + 1)
            ]
            worst = Strain(
                breath,
                litres,
                lungs.comfortable_litres,
                sum(seconds[first : last + 1]),
                tuple(dict.fromkeys(numbers)),
            )
    return worst


def _worst(gains: list[float], rests: list[float], places: list[int]) -> tuple[float, int, int]:
    """The greatest sum over notes in a row within a phrase, and the first and last of them.

    A rest before a note takes off what it can, down to nothing.
    """
    best = (0.0, 0, 0)
    for first in range(len(gains)):
        if gains[first] <= 0 or (first and gains[first - 1] > 0 and not rests[first]
                                 and places[first - 1] == places[first]):  # fmt: skip
            continue  # a worse stretch begins before this note
        held = 0.0
        for last in range(first, len(gains)):
            if places[last] - places[first] >= PHRASE_BARS:
                break
            held = max(0.0, held - (rests[last] if last > first else 0.0)) + gains[last]
            if held > best[0] + 1e-9:
                best = (held, first, last)
            if held <= 0:
                break
    return best


def strain_work(strain: Strain | None) -> float:
    """Effort a second that it adds to the work of the tune; nothing within the first lungful."""
    if strain is None:
        return 0.0
    lungfuls = strain.litres / max(strain.comfortable, 1e-6)
    return min(MOST_WORK, WORK_A_LUNGFUL * max(0.0, lungfuls - 1.0))
