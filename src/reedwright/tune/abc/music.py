"""The music-line parser: what each kind of word on a line of music does to its voice."""

from __future__ import annotations

from fractions import Fraction

from reedwright.tune.abc.barlines import read_bar_line, read_ending_start
from reedwright.tune.abc.chords import read_chord, read_grace, read_plus
from reedwright.tune.abc.rhythm import read_broken, read_rest, read_tie, start_tuplet
from reedwright.tune.abc.signs import (
    close_slur,
    open_slur,
    read_field,
    read_long,
    read_nothing,
    read_overlay,
    read_quote,
    read_short,
    read_unknown,
)
from reedwright.tune.abc.state import TuneState
from reedwright.tune.abc.voice import Action, VoiceReader
from reedwright.tune.model import Key, Meter

ACTIONS: dict[str, Action] = {
    "bar": read_bar_line,
    "broken": read_broken,
    "grace": read_grace,
    "tuplet": start_tuplet,
    "slur_open": open_slur,
    "slur_close": close_slur,
    "tie": read_tie,
    "quote": read_quote,
    "rest": read_rest,
    "long": read_long,
    "plus": read_plus,
    "field": read_field,
    "ending": read_ending_start,
    "invisible": read_bar_line,
    "chord": read_chord,
    "short": read_short,
    "overlay": read_overlay,
    "spacer": read_nothing,
    "nothing": read_nothing,
    "unknown": read_unknown,
}


def new_voice(name: str, state: TuneState, key: Key, meter: Meter, unit: Fraction) -> VoiceReader:
    """A voice that begins, in this key, metre and unit note length (quarter notes)."""
    return VoiceReader(name, state, key, meter, unit, ACTIONS)
