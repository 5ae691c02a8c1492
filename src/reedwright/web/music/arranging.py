"""A tune arranged as its choices ask, on their harp or the one that it lies best on.

Public: `arranged`, `settled`, `best_of`, `harps_to_choose_from`, `KEYS`.
"""

from __future__ import annotations

import hashlib
from dataclasses import replace

from reedwright.harp.model import Harp
from reedwright.harp.written import harp_text
from reedwright.player.profile import Profile
from reedwright.shelf.belongings.harps import harps_on
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.best import easiest
from reedwright.tab.choices.model import TuneChoices
from reedwright.tab.choices.session import Session
from reedwright.tune.model import Change, Note, Tune
from reedwright.web.remembering import Remembered

OCTAVES = (-1, 0, 1)
"""By which a tune is moved to lie well, where its choices do not say."""
KEYS = ("G", "Ab", "A", "Bb", "B", "C", "Db", "D", "Eb", "E", "F", "F#")
"""The ordinary harps, from the lowest up (common practice)."""

_BEST: Remembered[tuple[str, int]] = Remembered(512)


def harps_to_choose_from(shelf: Shelf) -> tuple[Harp, ...] | None:
    """Those on the shelf; None, which is all that there are, where it has none."""
    return tuple(dict.fromkeys(harp for _, harp in harps_on(shelf))) or None


def settled(tune: Tune, choices: TuneChoices, harps: tuple[Harp, ...] | None) -> Session:
    """The choices with a harp: the one they name, or the easiest of those given.

    Which is easiest is remembered, by what of the tune is music. Raises as `easiest`.
    """
    session = Session(tune, choices)
    if choices.harp:
        return session
    asked = OCTAVES if choices.octaves is None else (choices.octaves,)
    harp, octaves = best_of(session, harps, asked)
    return Session(tune, replace(choices, harp=harp, octaves=octaves))


def best_of(
    session: Session, harps: tuple[Harp, ...] | None, octaves: tuple[int, ...] = OCTAVES
) -> tuple[str, int]:
    """The easiest of some harps, as a harp is written, and the octaves to move the tune by."""
    tune, voice = session.tune, session.voice
    profile, semitones = session.profile, session.choices.semitones or 0

    def work() -> tuple[str, int]:
        best = easiest(tune, profile, harps, voice, octaves, semitones=semitones)
        return harp_text(best.harp), best.octaves

    named = None if harps is None else tuple(map(harp_print, harps))
    key = (_music(tune, voice), profile_print(profile), named, octaves, semitones)
    return _BEST.get(key, work)


def _music(tune: Tune, voice: int) -> str:
    """What of a tune bears on its fingering, so that a new title is no reason to rank harps."""
    parts: list[object] = [tune.part_order, tune.type, tune.tempo, tune.meter]
    for bar in tune.voices[voice].bars if voice < len(tune.voices) else ():
        parts += [bar.key, bar.meter, bar.repeat_open, bar.repeat_close, bar.ending]
        parts += [bar.ending_last, bar.part, bar.marks]
        for event in bar.events:
            if isinstance(event, Note):
                graces = [grace.pitch.midi for grace in event.graces]
                parts += [event.pitches, event.length, event.ties, graces, event.decorations]
                parts += [event.slurs_open, event.slurs_close, event.tuplet]
            elif isinstance(event, Change):
                parts += [event.key, event.meter, event.tempo]
            else:
                parts.append(event.length)
    return hashlib.blake2b(repr(parts).encode("utf-8", "replace"), digest_size=16).hexdigest()


def harp_print(harp: Harp) -> str:
    """What tells this harp from others, also from one of the same name that is tuned otherwise."""
    return hashlib.blake2b(repr(harp).encode(), digest_size=12).hexdigest()


def profile_print(profile: Profile) -> str:
    return hashlib.blake2b(repr(profile).encode(), digest_size=12).hexdigest()


def arranged(tune: Tune, choices: TuneChoices, harps: tuple[Harp, ...] | None) -> Arrangement:
    """Raises `NoHarp` where the tune has no notes, `ChoicesError`."""
    return settled(tune, choices, harps).arranged()
