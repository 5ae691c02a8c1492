"""Key, metre, unit length and tempo as the texts of their fields: `K:`, `M:`, `L:`, `Q:`."""

from __future__ import annotations

from fractions import Fraction

from reedwright.fifths import MODE_FIFTHS, STEPS, mode_fifths, signature
from reedwright.tune.abc.keys import HIGHLAND
from reedwright.tune.model import Key, Meter, Tempo

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


def meter_text(meter: Meter) -> str:
    """`6/8`, `C|`, `(2+3)/8`, `none`."""
    if meter.free:
        return "none"
    if meter.symbol:
        return meter.symbol
    beats = "+".join(str(n) for n in meter.beats)
    return f"({beats})/{meter.unit}" if len(meter.beats) > 1 else f"{beats}/{meter.unit}"


def unit_text(unit: Fraction) -> str:
    """A length in quarter notes as a part of a whole note: `1/8`."""
    part = unit / 4
    return f"{part.numerator}/{part.denominator}"


def tempo_text(tempo: Tempo) -> str:
    """`"Slow" 3/8=80`."""
    parts = []
    if tempo.text:
        parts.append('"' + tempo.text.replace('"', "'") + '"')
    if tempo.bpm is not None:
        rate = f"{float(tempo.bpm):.6f}".rstrip("0").rstrip(".")
        parts.append(f"{unit_text(tempo.beat)}={rate}")
    return " ".join(parts)
