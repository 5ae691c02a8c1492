"""The tab of least effort for a tune, a harp and a player: exact, repeats as played.

What is summed: docs/effort.md and `effort.py`; which notes meet: `chain.py`; how the
least sum is found: `solver.py`.

Public: `arrange`, `NotOnHarp`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Harp, Sounding
from reedwright.player.profile import Profile
from reedwright.tab.advice import missing_notes
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.chain import Chain, make_chain, written_chain
from reedwright.tab.costs import effort_parts, problems_of
from reedwright.tab.effort import SCALE, Ways, encoded
from reedwright.tab.solver import solve
from reedwright.tab.ways import MIDI_NOTES, make_table, usable_ways
from reedwright.tune.model import Note, Tune
from reedwright.tune.tempo import quarters_per_minute as usual_tempo
from reedwright.tune.transpose import transposed


class NotOnHarp(ReedwrightError):
    """A fixed tab names a note that the tune has not, or a way that the harp has not."""


def arrange(
    tune: Tune,
    harp: Harp,
    profile: Profile,
    voice: int = 0,
    octaves: int = 0,
    semitones: int = 0,
    quarters_per_minute: float | None = None,
    fixed: Mapping[str, Sounding] | None = None,
) -> Arrangement:
    """Find the tab of least effort, the tune first moved by octaves and semitones.

    `quarters_per_minute`: crotchets a minute; without it the tune's own tempo or what is
    usual for its type. `fixed`: ways that are given, by id of note or grace note (also
    techniques that the profile has not); the rest is then the least that these allow.

    Equal answers: the one is taken whose notes, compared in written order, come first in
    the order of preference that `ways.py` states.

    Raises `NotOnHarp` for a fixed way that cannot be, `EndlessTune` (see `unfold`) and
    `OutOfRange` (see `transposed`).
    """
    moved = transposed(tune, semitones=semitones, octaves=octaves)
    tempo = quarters_per_minute or usual_tempo(tune)
    chain = make_chain(moved, voice)
    given = dict(fixed or {})
    _check(given, moved, voice, harp)
    chosen, total = _least(chain, harp, profile, tempo, given)
    parts = effort_parts(chain, _as_arrays(chosen), profile.weights, tempo)
    soundings = {
        id_: way
        for unknown, way in zip(chain.unknowns, chosen, strict=True)
        if way is not None
        for id_ in unknown.ids
    }
    if chain.unplayed:
        soundings |= _unplayed(moved, voice, harp, profile, tempo, given, soundings, chain)
    return Arrangement(
        tune=moved,
        harp=harp,
        player=profile,
        soundings=soundings,
        missing=missing_notes(moved, voice, harp, profile, soundings),
        effort=total / SCALE,
        parts_of_effort={name: units / SCALE for name, units in parts.items()},
        voice=voice,
        octaves=octaves,
        semitones=semitones,
        warnings=_warnings(moved, voice, chain),
        quarters_per_minute=tempo,
        notes_played=chain.played,
    )


def _least(
    chain: Chain, harp: Harp, profile: Profile, tempo: float, given: Mapping[str, Sounding]
) -> tuple[list[Sounding | None], int]:
    """For each unknown the way to sound it, None where there is none; and the least cost."""
    ways = dict(usable_ways(harp, profile))
    # A note whose way is given counts as a pitch of its own that has this one way.
    rows: dict[Sounding, int] = {}
    for way in given.values():
        rows.setdefault(way, MIDI_NOTES + len(rows))
    ways |= {row: (way,) for way, row in rows.items()}
    unknowns = []
    for unknown in chain.unknowns:
        mine = next((given[id_] for id_ in unknown.ids if id_ in given), None)
        unknowns.append(unknown if mine is None else unknown._replace(midi=rows[mine]))
    chain = replace(chain, unknowns=tuple(unknowns))
    problems = problems_of(chain, make_table((ways,), (0,)), profile.weights, tempo)
    totals, states = solve(problems)
    chosen: list[Sounding | None] = []
    for unknown, state in zip(chain.unknowns, states[:, 0], strict=True):
        here = ways.get(unknown.midi)
        chosen.append(here[state] if here else None)
    return chosen, int(totals[0])


def _as_arrays(chosen: list[Sounding | None]) -> Ways:
    numbers = np.array([encoded(way) for way in chosen], np.int8).reshape(-1, len(Ways._fields))
    return Ways(*numbers.T)


def _unplayed(
    tune: Tune,
    voice: int,
    harp: Harp,
    profile: Profile,
    tempo: float,
    given: Mapping[str, Sounding],
    soundings: Mapping[str, Sounding],
    chain: Chain,
) -> dict[str, Sounding]:
    """Ways for notes that stand on the page but are never played: the easiest as they stand."""
    page = written_chain(tune, voice)
    unplayed = set(chain.unplayed)
    known = {id_: way for id_, way in soundings.items() if id_ not in unplayed}
    chosen, _ = _least(page, harp, profile, tempo, {**known, **given})
    return {
        id_: way
        for unknown, way in zip(page.unknowns, chosen, strict=True)
        if way is not None
        for id_ in unknown.ids
        if id_ in unplayed
    }


def _check(given: Mapping[str, Sounding], tune: Tune, voice: int, harp: Harp) -> None:
    pitches = {}
    for note in tune.voices[voice].notes if voice < len(tune.voices) else ():
        pitches[note.id] = note.pitch
        pitches.update((grace.id, grace.pitch) for grace in note.graces)
    for id_, way in given.items():
        if id_ not in pitches:
            raise NotOnHarp(f"{tune.title}: a fixed tab names the note {id_}, which is not there")
        if way not in harp.ways.get(pitches[id_].midi, ()):
            raise NotOnHarp(
                f"{tune.title}, note {id_}: hole {way.hole} {way.breath.value} "
                f"({way.technique.value}) of the {harp.name} does not sound "
                f"{pitches[id_].name}; choose another way"
            )


def _warnings(tune: Tune, voice: int, chain: Chain) -> tuple[str, ...]:
    found = []
    bars = tune.voices[voice].bars if voice < len(tune.voices) else ()
    chords = [bar.number for bar in bars for note in bar.notes if len(note.pitches) > 1]
    if len(chords) == 1:
        found.append(f"There is a chord in bar {chords[0]}; the tab follows its top note.")
    elif chords:
        found.append(
            f"There are {len(chords)} chords, the first in bar {chords[0]}; "
            "the tab follows the top note."
        )
    if any(isinstance(event, Note) for bar in bars for layer in bar.overlays for event in layer):
        found.append("Some bars hold a second layer of notes; the tab follows the first.")
    if chain.unplayed:
        count = sum(1 for bar in bars for note in bar.notes if note.id in set(chain.unplayed))
        which, them = ("1 note stands", "it") if count == 1 else (f"{count} notes stand", "them")
        found.append(f"{which} in the music but its repeats never reach {them}.")
    return tuple(found)
