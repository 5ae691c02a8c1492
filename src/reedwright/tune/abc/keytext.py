"""A key as the text of a `K:` field."""

from __future__ import annotations

from reedwright.fifths import MODE_FIFTHS, STEPS, mode_fifths, signature
from reedwright.tune.abc.keys import HIGHLAND
from reedwright.tune.model import Key

MODE_TEXTS = {
    "major": "",
    "minor": "m",
    "dorian": "dor",
    "phrygian": "phr",
    "lydian": "lyd",
    "mixolydian": "mix",
    "locrian": "loc",
}
SIGNS = {-2: "__", -1: "_", 0: "=", 1: "^", 2: "^^"}


def key_text(key: Key, clef_before: str) -> str:
    """`Edor`, `D =c`, `none`; the clef is named where it differs from the one before."""
    text = _tonic_and_signature(key)
    return text if key.clef == clef_before else f"{text} clef={key.clef}"


def _tonic_and_signature(key: Key) -> str:
    if key.mode == "none":
        return " ".join(["none", *_signs(key.accidentals, (0,) * 7)])
    if key.mode == "highland" and key.accidentals == HIGHLAND.accidentals:
        return "HP"
    mode = key.mode if key.mode in MODE_FIFTHS else "major"
    text = key.tonic + MODE_TEXTS[mode]
    natural = signature(mode_fifths(key.step, key.alter, mode))
    return " ".join([text, *_signs(key.accidentals, natural)])


def _signs(accidentals: tuple[int, ...], natural: tuple[int, ...]) -> list[str]:
    return [
        SIGNS[alter] + step.lower()
        for step, alter, expected in zip(STEPS, accidentals, natural, strict=True)
        if alter != expected
    ]
