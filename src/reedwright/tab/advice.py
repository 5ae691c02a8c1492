"""Notes that a harp lacks, and what would really help: each piece of advice is worked out.

Public: `missing_notes`.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from reedwright.harp.making import make_harp
from reedwright.harp.model import Harp, Sounding
from reedwright.harp.naming import KEYS
from reedwright.harp.tunings import all_tunings
from reedwright.player.profile import Profile
from reedwright.tab.arrangement import MissingNote
from reedwright.tab.ways import technique_name, usable_ways
from reedwright.tab.words import counted, with_article
from reedwright.tune.model import Tune
from reedwright.tune.unfold import written_beats


def missing_notes(
    tune: Tune, voice: int, harp: Harp, profile: Profile, soundings: Mapping[str, Sounding]
) -> tuple[MissingNote, ...]:
    """Every written note that has no sounding, with advice."""
    bars = tune.voices[voice].bars if voice < len(tune.voices) else ()
    lacking = [(note, bar.number) for bar in bars for note in bar.notes if note.id not in soundings]
    if not lacking:
        return ()
    midis = frozenset(note.pitch.midi for bar in bars for note in bar.notes)
    elsewhere = _whole_tune(harp, profile, midis)
    places = written_beats(tune, voice)
    return tuple(
        MissingNote(
            note.id,
            note.pitch.name,
            number,
            places[note.id],
            elsewhere,
            _technique(note.pitch.midi, harp),
        )
        for note, number in lacking
    )


def _technique(midi: int, harp: Harp) -> str:
    """What technique, beyond this player's, would sound the note on this very harp."""
    ways = harp.ways.get(midi)
    if not ways:
        return ""
    way = ways[0]
    name = technique_name(way)
    if not name:
        return "The choices made rule out every way to play it."
    how = f" by {counted(way.bend, 'semitone')}" if way.bend else ""
    return f"With {with_article(name)} it is hole {way.hole} {way.breath.value}{how}."


def _lacks(harp: Harp, profile: Profile, midis: frozenset[int], moved: int = 0) -> int:
    usable = usable_ways(harp, profile)
    return sum(midi + moved not in usable for midi in midis)


@lru_cache(maxsize=256)
def _whole_tune(harp: Harp, profile: Profile, midis: frozenset[int]) -> str:
    """What helps the whole tune: another octave, another tuning, another key of harp."""
    now = _lacks(harp, profile, midis)
    said = []
    octaves = {move: _lacks(harp, profile, midis, 12 * move) for move in (1, -1, 2, -2)}
    move = min(octaves, key=lambda each: (octaves[each], abs(each), each < 0))
    octaves_best = octaves[move]
    if octaves_best < now:
        which = f"{counted(abs(move), 'octave')} {'higher' if move > 0 else 'lower'}"
        rest = "has every note" if not octaves[move] else f"lacks {_pitches(octaves[move])}"
        said.append(f"Played {which} the tune {rest}.")
    others = [
        make_harp(harp.key, tuning, harp.register)
        for tuning in all_tunings().values()
        if tuning.name != harp.tuning.name and tuning.slide == harp.tuning.slide
    ]
    others += [make_harp(key, harp.tuning) for key in KEYS if key != harp.key]
    lacks, _, at, move = min(
        (_lacks(other, profile, midis, 12 * move), abs(move), at, move)
        for at, other in enumerate(others)
        for move in (0, 1, -1)
    )
    # Moved as well as changed for another harp, it must be better than moved alone.
    if lacks < (min(now, octaves_best) if move else now):
        rest = "has every note of the tune" if not lacks else f"lacks only {_pitches(lacks)}"
        moved = f", played 1 octave {'higher' if move > 0 else 'lower'}" if move else ""
        other = with_article(others[at].name)
        said.append(f"{other[0].upper()}{other[1:]} {rest}{moved}.")
    return " ".join(said) or "No other octave, key or tuning gives this player more of the tune."


def _pitches(count: int) -> str:
    return counted(count, "pitch", "pitches")
