"""Chords and grace notes: several notes in one word."""

from __future__ import annotations

from reedwright.tune.abc.drafts import GraceDraft, NoteDraft
from reedwright.tune.abc.scanner import TOKEN, read_length, read_note
from reedwright.tune.abc.signs import read_long, read_quote, read_short
from reedwright.tune.abc.symbols import LONG_DECORATIONS, SYNONYMS
from reedwright.tune.abc.voice import VoiceReader
from reedwright.tune.model import Pitch


def read_chord(voice: VoiceReader, word: str, column: int) -> None:
    """`[CEG]2`: its length is that of its first note (ABC 2.1, section 4.17)."""
    inside, _, length = word[1:].rpartition("]")
    pitches: list[Pitch] = []
    ties: list[bool] = []
    first: tuple[int, int] | None = None
    explicit = False
    for found in TOKEN.finditer(inside):
        kind = found.lastgroup
        place = column + 1 + found.start()
        if kind == "note":
            step, octave, sign, top, bottom = read_note(found[0])
            pitch = voice.sounding(step, octave, sign, place)
            explicit = explicit or sign is not None
            first = first or (top, bottom)
            if pitch not in pitches:
                pitches.append(pitch)
                ties.append(False)
        elif kind == "tie" and ties:
            ties[-1] = True
        elif kind in ("quote", "short", "long", "slur_open", "slur_close"):
            if kind == "slur_close":
                voice.state.warn("a slur inside a chord; left out", voice.line, place)
            elif kind != "slur_open":
                _SIGNS[kind](voice, found[0], place)
        elif kind not in ("space", "nothing"):
            voice.state.warn(f"'{found[0]}' in a chord was passed over", voice.line, place)
    if first is None:
        voice.state.warn(f"'{word}' was passed over: no notes in it", voice.line, column)
        return
    top, bottom = read_length(length)
    draft = NoteDraft(
        tuple(pitches),
        first[0] * top * voice.unit_top,
        first[1] * bottom * voice.unit_bottom,
        voice.line,
        column,
    )
    draft.explicit = explicit
    if any(ties):
        draft.ties = ties
    voice.add(draft, True)


def read_grace(voice: VoiceReader, word: str, column: int) -> None:
    """`{ab}` or `{/a}`: they wait for the next note."""
    # The accidental of a grace note holds for its group alone. The standard does not say;
    # in tunebooks `{^g}a2 G2` means a natural G.
    alters, octave_alters = dict(voice.alters), dict(voice.octave_alters)
    graces: list[GraceDraft] = list(voice.graces)
    inside = word[1:-1]
    if inside.startswith("/"):
        voice.slashed = True
    else:
        voice.slashed = voice.slashed and bool(voice.graces)
    for found in TOKEN.finditer(inside.lstrip("/") if inside.startswith("/") else inside):
        if found.lastgroup == "note":
            place = column + 1 + found.start() + (len(inside) - len(inside.lstrip("/")))
            step, octave, sign, top, bottom = read_note(found[0])
            pitch = voice.sounding(step, octave, sign, place)
            graces.append(
                GraceDraft(
                    pitch, top * voice.unit_top, bottom * voice.unit_bottom, voice.line, place
                )
            )
        elif found.lastgroup == "chord":
            for inner in TOKEN.finditer(found[0][1:]):
                if inner.lastgroup == "note":
                    step, octave, sign, top, bottom = read_note(inner[0])
                    pitch = voice.sounding(step, octave, sign, column)
                    graces.append(
                        GraceDraft(
                            pitch,
                            top * voice.unit_top,
                            bottom * voice.unit_bottom,
                            voice.line,
                            column,
                        )
                    )
    voice.graces = tuple(graces)
    voice.alters, voice.octave_alters = alters, octave_alters


def read_plus(voice: VoiceReader, word: str, column: int) -> None:
    """`+trill+` as ABC 2.0 wrote decorations, or `+CEG+`, a chord of ABC 1.x."""
    name = SYNONYMS.get(word[1:-1], word[1:-1])
    if name in LONG_DECORATIONS:
        voice.decorations.append(name)
    elif read_old_chord(word):
        read_chord(voice, f"[{word[1:-1]}]", column)
    else:
        voice.state.warn(f"'{word}' has no meaning here; passed over", voice.line, column)


def read_old_chord(word: str) -> bool:
    """Whether `+...+` holds notes."""
    return all(found.lastgroup in ("note", "space", "tie") for found in TOKEN.finditer(word[1:-1]))


_SIGNS = {"quote": read_quote, "short": read_short, "long": read_long}
