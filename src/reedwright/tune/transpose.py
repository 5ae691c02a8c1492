"""A tune moved by octaves or to another key, with everything in it.

Public: `transposed`, `OutOfRange`.

Spelling is worked out on the line of fifths (... Bb F C G D ...): moving a key along
it moves every note by the same number of fifths, so that a sharpened
fourth stays a sharpened fourth. Of the enharmonic keys the one with fewer
sharps or flats is taken, never more than six; at six either way, that on the
side where the key was.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache

from reedwright.errors import ReedwrightError
from reedwright.fifths import MODE_FIFTHS, STEPS, fifths_of, mode_fifths, octave_of, spelled_at
from reedwright.tune.model import (
    Bar,
    Change,
    Event,
    Field,
    Grace,
    Key,
    Note,
    Pitch,
    Rest,
    Tune,
)

_HIGHEST_MIDI = 127

_CHORD = re.compile(
    r"(?P<open>\(?)(?P<step>[A-G])(?P<alter>[#b♯♭]?)"
    r"(?P<kind>(?:maj|min|mi|ma|m|M|dim|aug|sus|add|alt|no|[-+°oøΔ#b♯♭]|\d|[(),^])*)"
    r"(?:/(?P<bass>[A-G])(?P<bass_alter>[#b♯♭]?))?(?P<close>\)?)"
)
_ALTERS = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}
_SIGNS = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}
_TONIC = re.compile(r"\s*[A-G](?:#|b(?![a-z]))?")


class OutOfRange(ReedwrightError):
    """A note would leave the range that notes have names and numbers for."""


def transposed(tune: Tune, semitones: int = 0, octaves: int = 0) -> Tune:
    """The tune `semitones` (up positive) and `octaves` higher, ids and places kept.

    Notes, grace notes, overlays, keys and chord symbols move, in every voice. The
    same tune comes back for a move of nothing. `text` stays the source as it was.

    Raises `OutOfRange` where a pitch would fall outside MIDI notes 0 to 127.
    """
    moved = semitones + 12 * octaves
    if not moved:
        return tune
    move = _Move(moved)
    key = move.key(tune.key)
    return replace(
        tune,
        key=key,
        voices=tuple(
            replace(voice, bars=tuple(_bar(bar, move) for bar in voice.bars))
            for voice in tune.voices
        ),
        fields=tuple(_field(field, key, moved) for field in tune.fields),
    )


class _Move:
    """A move of so many semitones; what it does depends on the key that is in force."""

    def __init__(self, semitones: int) -> None:
        self.semitones = semitones
        self._keys: dict[Key, Key] = {}

    def fifths(self, key: Key) -> int:
        return _fifths_shift(_key_fifths(key), self.semitones)

    def key(self, key: Key) -> Key:
        if key not in self._keys:
            self._keys[key] = _moved_key(key, self.fifths(key), self.semitones)
        return self._keys[key]


def _key_fifths(key: Key) -> int:
    if key.mode in MODE_FIFTHS:
        return mode_fifths(key.step, key.alter, key.mode)
    return key.fifths


@lru_cache(maxsize=512)
def _fifths_shift(key_fifths: int, semitones: int) -> int:
    """How far along the line of fifths a move takes this key."""
    if semitones % 12 == 0:
        return 0
    shift = 7 * semitones % 12  # a fifth is seven semitones, and seven sevens are one mod 12
    candidates = [shift + 12 * turn for turn in range(-3, 3)]
    sign = 1 if key_fifths >= 0 else -1
    return min(candidates, key=lambda s: (abs(key_fifths + s), -sign * (key_fifths + s)))


def _moved_key(key: Key, shift: int, semitones: int) -> Key:
    if key.mode == "none" or shift == 0:
        return key
    step, alter = _along(key.step, key.alter, shift)
    accidentals = [0] * 7
    for place, old in enumerate(STEPS):
        new_step, new_alter = _along(old, key.accidentals[place], shift)
        accidentals[STEPS.index(new_step)] = new_alter
    c, d, e, f, g, a, b = accidentals
    # The pipes' scale is in A and nowhere else; elsewhere it is plain mixolydian.
    mode = "mixolydian" if key.mode == "highland" else key.mode
    return replace(key, step=step, alter=alter, mode=mode, accidentals=(c, d, e, f, g, a, b))


def _along(step: str, alter: int, shift: int) -> tuple[str, int]:
    """A spelled pitch class, `shift` fifths further up the line."""
    return spelled_at(fifths_of(step, alter) + shift)


@lru_cache(maxsize=8192)
def _moved_pitch(pitch: Pitch, shift: int, semitones: int) -> Pitch:
    midi = pitch.midi + semitones
    if not 0 <= midi <= _HIGHEST_MIDI:
        raise OutOfRange(
            f"{pitch.name} can't be moved by {semitones} semitones: "
            "that leaves the range of MIDI notes (0 to 127). Choose a smaller move."
        )
    if semitones % 12 == 0:
        return pitch.octaves_up(semitones // 12)
    step, alter = _along(pitch.step, pitch.alter, shift)
    if abs(alter) > 2 or abs(alter) == 2 > abs(pitch.alter):
        step, alter = _along(step, alter, -12 if alter > 0 else 12)  # the enharmonic neighbour
    return Pitch(step, alter, octave_of(midi, step, alter))


def _bar(bar: Bar, move: _Move) -> Bar:
    def layer(events: tuple[Event, ...]) -> tuple[Event, ...]:
        key = bar.key
        moved: list[Event] = []
        for event in events:
            if isinstance(event, Change):
                if event.key is not None:
                    key = event.key
                    event = replace(event, key=move.key(key))
            else:
                event = _event(event, move.fifths(key), move.semitones)
            moved.append(event)
        return tuple(moved)

    return replace(
        bar,
        key=move.key(bar.key),
        events=layer(bar.events),
        overlays=tuple(layer(events) for events in bar.overlays),
    )


def _event(event: Note | Rest, shift: int, semitones: int) -> Note | Rest:
    symbol = _chord_symbol(event.chord_symbol, shift) if event.chord_symbol else ""
    if isinstance(event, Rest):
        return event if symbol == event.chord_symbol else replace(event, chord_symbol=symbol)
    return replace(
        event,
        pitches=tuple(_moved_pitch(pitch, shift, semitones) for pitch in event.pitches),
        graces=tuple(_grace(grace, shift, semitones) for grace in event.graces),
        chord_symbol=symbol,
    )


def _grace(grace: Grace, shift: int, semitones: int) -> Grace:
    return replace(grace, pitch=_moved_pitch(grace.pitch, shift, semitones))


def _chord_symbol(symbol: str, shift: int) -> str:
    """`Am7/E` moved; what is no chord symbol (`N.C.`, words) stays."""
    found = _CHORD.fullmatch(symbol.strip())
    if found is None or shift == 0:
        return symbol
    root = _root(found["step"], found["alter"], shift)
    bass = f"/{_root(found['bass'], found['bass_alter'], shift)}" if found["bass"] else ""
    return f"{found['open']}{root}{found['kind']}{bass}{found['close']}"


def _root(step: str, alter: str, shift: int) -> str:
    new_step, new_alter = _along(step, _ALTERS[alter], shift)
    if abs(new_alter) > 1:
        new_step, new_alter = _along(new_step, new_alter, -12 if new_alter > 0 else 12)
    return new_step + _SIGNS[new_alter]


def _field(field: Field, key: Key, semitones: int) -> Field:
    """The header's `K:` says the new tonic; its other words stay."""
    if field.code != "K" or semitones % 12 == 0 or not _TONIC.match(field.text):
        return field
    return field._replace(text=_TONIC.sub(key.tonic, field.text, count=1))
