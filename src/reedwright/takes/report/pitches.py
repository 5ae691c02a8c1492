"""Pitch over the whole take: its own reference, and reeds that are out of tune by themselves.

Public: `own_reference`, `reed_pitches`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping

import numpy as np

from reedwright.harp.model import Harp, Reed, Sounding, Technique
from reedwright.takes.model import Following
from reedwright.takes.report.model import JudgedNote, ReedPitch, Verdict
from reedwright.takes.report.notes import Pitching
from reedwright.workshop.targets.temperaments import ReedTemperament, note_cents

RIGHT_CENTS = 50.0  # a note further off does not tell of the reference
# A reed is called out of tune where its notes agree on it: so far off (cents; a listener hears
# about 5 to 10 on held notes, the rest is margin for breath), so many of them, so close together.
REED_OFF, REED_COUNT, REED_SPREAD = 15.0, 3, 8.0
SHORTEST_TELLING = 0.12  # seconds; the pitch of shorter notes is not settled


def own_reference(
    following: Following,
    soundings: Mapping[str, Sounding],
    harp: Harp,
    temperament: ReedTemperament,
) -> Pitching:
    """What this take is in tune with: the A4 at which its unbent notes lie right in the middle.

    With equal temperament it is about `Heard.a4`; with another the temperament's own offsets
    are taken out.
    """
    tempered = note_cents(temperament, harp)
    start = Pitching(harp, tempered, following.heard.a4)
    cents, seconds = [], []
    for note in following.notes:
        way = soundings.get(note.id)
        if note.is_grace or not note.heard or (way and way.technique is not Technique.NATURAL):
            continue
        heard = max((following.heard.notes[k] for k in note.heard), key=lambda h: h.seconds)
        off = start.cents(heard.hz, note.midi)
        if abs(off) < RIGHT_CENTS:
            cents.append(off)
            seconds.append(heard.seconds)
    if not cents:
        return start
    return Pitching(harp, tempered, start.a4 * 2 ** (weighted_median(cents, seconds) / 1200))


def weighted_median(values: Iterable[float], weights: Iterable[float]) -> float:
    """The value in the middle of the weight."""
    pairs = np.array(sorted(zip(values, weights, strict=True)))
    total = np.cumsum(pairs[:, 1])
    return float(pairs[int(np.searchsorted(total, total[-1] / 2)), 0])


def reed_pitches(notes: Iterable[JudgedNote]) -> tuple[ReedPitch, ...]:
    """Every reed that was played unbent, by hole, blow before draw."""
    cents: dict[Reed, list[float]] = defaultdict(list)
    names: dict[Reed, tuple[int, str]] = {}
    for note in notes:
        way = note.sounding
        if way is None or way.technique is not Technique.NATURAL or way.slide or note.is_grace:
            continue
        if note.verdict is Verdict.PLAYED and note.cents is not None:
            if note.seconds < SHORTEST_TELLING:
                continue
            reed = Reed(way.hole, way.breath)
            cents[reed].append(note.cents)
            names[reed] = note.midi, note.name
    found = []
    for reed in sorted(cents):
        low, middle, high = np.percentile(cents[reed], [25, 50, 75])
        count, spread = len(cents[reed]), float(high - low) / 2
        off = abs(middle) >= REED_OFF and count >= REED_COUNT and spread <= REED_SPREAD
        midi, name = names[reed]
        found.append(
            ReedPitch(
                reed.hole, reed.breath, midi, name, float(middle), spread, count, is_off=bool(off)
            )
        )
    return tuple(found)
