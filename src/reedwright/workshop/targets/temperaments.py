"""Temperaments by reed and what they do to the reeds of a harp.

A temperament sets reeds by the chord of their breath, by their role in it, by note, or one by one.
`finding` gives those there are, `reading` reads a user's own.

Public: `ReedTemperament`, `reed_cents`, `note_cents`, `pure_ratio`, `TemperamentError`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from statistics import fmean

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Breath, Harp, Reed
from reedwright.harp.temperament import SEMITONES, cents
from reedwright.workshop.targets.chords import breath_chord, chord_tuning

_MIDI_NOTES = 128


class TemperamentError(ReedwrightError):
    """A table of cents that cannot be used, or not on this harp."""


@dataclass(frozen=True, slots=True)
class ReedTemperament:
    """How far reeds are set from equal temperament, by one of four rules.

    `limit` (5 or 7): by role in the chords of the breath, `share` of the way to pure.
    `roles`: cents by breath and role. `notes`: cents of the twelve semitones above the home note.
    `reeds`: cents by breath, from hole 1 up. `path` is the file, for messages (None for those
    of `harp.temperament`).
    """

    name: str
    title: str
    description: str = ""
    source: str = ""
    limit: int = 0
    share: float = 1.0
    roles: dict[Breath, dict[str, float]] = field(default_factory=dict)
    notes: tuple[float, ...] = ()
    reeds: dict[Breath, tuple[float, ...]] = field(default_factory=dict)
    path: Path | None = None


def reed_cents(temperament: ReedTemperament, harp: Harp) -> dict[Reed, float]:
    """Cents from equal temperament of every reed of a harp, with the slide out.

    The home note counts as 0 in temperaments by chord. Raises `TemperamentError` where a table by
    reed is for another number of holes.
    """
    found: dict[Reed, float] = {}
    for breath in Breath:
        for hole, value in enumerate(_of_breath(temperament, harp, breath), start=1):
            found[Reed(hole, breath)] = value
    return found


def note_cents(temperament: ReedTemperament, harp: Harp) -> tuple[float, ...]:
    """Cents from equal temperament of every MIDI note (128 of them), by the harp's own reeds.

    A note on several reeds lies at their mean. One that no reed has (a bend, an overblow) meets
    those of its letter in other octaves; where there are none, equal temperament.
    """
    home = harp.home_pitch_class
    if temperament.notes:
        return tuple(temperament.notes[(midi - home) % SEMITONES] for midi in range(_MIDI_NOTES))
    by_note: dict[int, list[float]] = {}
    by_letter: dict[int, list[float]] = {}
    for reed, value in reed_cents(temperament, harp).items():
        midi = harp.reed_midi(*reed)
        by_note.setdefault(midi, []).append(value)
        by_letter.setdefault(midi % SEMITONES, []).append(value)
    return tuple(
        fmean(by_note.get(midi) or by_letter.get(midi % SEMITONES) or (0.0,))
        for midi in range(_MIDI_NOTES)
    )


def pure_ratio(temperament: ReedTemperament, harp: Harp, reed: Reed) -> Fraction | None:
    """The ratio of a reed above the root of its chord, where it is set all the way to pure."""
    if not temperament.limit or temperament.share != 1:
        return None
    tuning = chord_tuning(harp, reed.breath, temperament.limit)
    return tuning.ratios[harp.reed_midi(reed.hole, reed.breath) % 12]


def _of_breath(temperament: ReedTemperament, harp: Harp, breath: Breath) -> list[float]:
    notes = [harp.reed_midi(hole, breath) for hole in range(1, harp.tuning.holes + 1)]
    home = harp.home_pitch_class
    if temperament.limit:
        tuning = chord_tuning(harp, breath, temperament.limit)
        pure = (_off(tuning.above_home(midi), (midi - home) % SEMITONES) for midi in notes)
        return [temperament.share * value for value in pure]
    if temperament.roles:
        chord = breath_chord(harp, breath)
        return [temperament.roles[breath].get(chord.role(midi), 0.0) for midi in notes]
    if temperament.reeds:
        values = temperament.reeds[breath]
        if len(values) != harp.tuning.holes:
            raise TemperamentError(
                f"{temperament.path}: the table is for {len(values)} holes, the {harp.name} has "
                f"{harp.tuning.holes}; give '{breath.value}' a number for each hole"
            )
        return list(values)
    return [temperament.notes[(midi - home) % SEMITONES] for midi in notes]


def _off(ratio: Fraction, semitones: int) -> float:
    """Cents of a ratio above equal semitones, whichever octave the ratio is written in."""
    return (cents(ratio) - 100 * semitones + 600) % 1200 - 600
