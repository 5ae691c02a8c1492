"""A measurement as plain data, for `--json` and for histories.

Public: `measurement_report`.
"""

from __future__ import annotations

from reedwright.harp.layout import note_name
from reedwright.harp.model import Reed
from reedwright.workshop.measuring.model import Measurement, NamedTone, ReedMeasure, Tone
from reedwright.workshop.measuring.remarks import TOLERANCE, remarks


def measurement_report(measurement: Measurement, tolerance: float = TOLERANCE) -> dict[str, object]:
    """Hz to the thousandth, cents to the hundredth, seconds to the millisecond, dB to the tenth."""
    targets = measurement.targets
    return {
        "harp": targets.harp.name,
        "temperament": str(targets.wishes.temperament),
        "a4": targets.wishes.a4,
        "at_bench": measurement.at_bench,
        "shift_cents": round(measurement.shift, 2),
        "order": measurement.order,
        "reeds": [_reed(each, measurement) for each in measurement.reeds],
        "missing": [_place(reed) for reed in measurement.missing],
        "tones": [_tone(each) for each in measurement.tones],
        "remarks": [
            {
                "matter": each.matter.value,
                "reeds": [_place(reed) for reed in each.reeds],
                "words": each.words,
            }
            for each in remarks(measurement, tolerance)
        ],
    }


def _place(reed: Reed) -> dict[str, object]:
    return {"hole": reed.hole, "breath": reed.breath.value}


def _reed(each: ReedMeasure, measurement: Measurement) -> dict[str, object]:
    target = measurement.targets.of(each.reed)
    hz = target.bench_hz if measurement.at_bench else target.hz
    return {
        **_place(each.reed),
        "note": note_name(target.midi, measurement.targets.harp),
        "target_hz": round(hz, 3),
        "hz": round(each.hz, 3),
        "cents": round(each.cents, 2),
        "uncertainty_cents": round(each.uncertainty, 2),
        "wander_cents": round(each.wander, 2),
        "attack_seconds": round(each.attack, 3),
        "level_dbfs": round(each.level, 1),
        "level_beside_db": None if each.level_beside is None else round(each.level_beside, 1),
        "attack_beside": None if each.attack_beside is None else round(each.attack_beside, 2),
        "tones": each.tones,
        "or": [_place(reed) for reed in each.others],
    }


def _tone(each: NamedTone) -> dict[str, object]:
    found: dict[str, object] = {
        "start": round(each.tone.start, 3),
        "end": round(each.tone.end, 3),
        "hz": round(each.tone.hz, 3),
        "reed": None if each.reed is None else _place(each.reed),
        "cents": None if each.reed is None else round(each.cents, 2),
        "sure": round(each.sure, 2),
        "or": [_place(reed) for reed in each.others],
    }
    if each.tone.upper_hz > 0:
        found["upper_hz"] = round(each.tone.upper_hz, 3)
        found["upper"] = None if each.upper is None else _place(each.upper)
        found["upper_cents"] = None if each.upper is None else round(each.upper_cents, 2)
        found["beats"] = _beats(each.tone)
    return found


def _beats(tone: Tone) -> dict[str, object] | None:
    if tone.beats is None:
        return None
    return {
        "hz": round(tone.beats.rate, 3),
        "uncertainty_hz": round(tone.beats.uncertainty, 3),
        "partials": list(tone.beats.partials),
    }
