"""What somebody at the bench wants to be told of a measurement, in plain words.

The limits are common practice of workshops, from memory, no source; they stand here with names
and units, and in docs/reed-measuring.md.

Public: `Remark`, `Matter`, `TOLERANCE`, `remarks`, `reed_words`.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from itertools import combinations
from math import hypot, log
from typing import NamedTuple

from reedwright.harp.model import Reed
from reedwright.workshop.measuring.another_harp import better_key
from reedwright.workshop.measuring.model import Measurement, NamedTone, ReedMeasure
from reedwright.workshop.targets.model import ReedTarget

TOLERANCE = 3.0  # cents; nearer to its target a reed is left alone
SURELY = 2.0  # standard errors
UNSTEADY = 3.0  # cents of wander (standard deviation) while a tone is held
DISAGREES = 6.0  # cents between tones of one reed
SLOW, SLOW_BESIDE = 0.08, 1.7  # seconds of attack, and times the neighbours'
WEAK = -4.0  # dB beside the neighbours
BEATS_MORE = 0.5  # Hz over what the targets themselves beat
TOO_FAST = 15.0  # Hz; reeds so far apart are out of tune, and nobody tunes them by beats yet
LIKELY = 0.75  # surer names are not remarked on
WITHIN_A_MOUTH = 5  # holes apart, for an octave
HARP_OFF = 5.0  # cents, the whole harp


class Matter(StrEnum):
    """What a remark is about, in the order in which they are told."""

    HARP = "whole harp"
    OFF = "off target"
    DISAGREES = "tones disagree"
    UNSTEADY = "unsteady"
    SLOW = "slow to speak"
    WEAK = "weak"
    BEATS = "beats"
    UNSURE = "which reed"
    MISSING = "not heard"
    STRAY = "no reed's"


class Remark(NamedTuple):
    """`reeds` it is about (none: the whole harp), `words` for people, `size` in its own unit."""

    matter: Matter
    reeds: tuple[Reed, ...]
    words: str
    size: float = 0.0


def reed_words(reed: Reed) -> str:
    """`3 blow`."""
    return f"{reed.hole} {reed.breath.value}"


def remarks(measurement: Measurement, tolerance: float = TOLERANCE) -> tuple[Remark, ...]:
    """What is to be done or known, by matter, the largest first."""
    found = [*_whole_harp(measurement)]
    for reed in measurement.reeds:
        found += [*_off(reed, tolerance), *_of_one(reed), *_disagreement(reed, measurement)]
    found += [*_heard_together(measurement), *_beating(measurement), *_doubts(measurement)]
    kinds = list(Matter)
    return tuple(sorted(found, key=lambda each: (kinds.index(each.matter), -abs(each.size))))


def _whole_harp(measurement: Measurement) -> list[Remark]:
    other = better_key(measurement)
    if other is not None:
        words = (
            f"This does not sound like the {measurement.targets.harp.name}: most of the tones are "
            f"reeds of the {other.name}. Measure it as that, and pass over the figures here."
        )
        return [Remark(Matter.HARP, (), words, 1200.0)]
    if abs(measurement.shift) < HARP_OFF or len(measurement.reeds) < 4:
        return []
    a4 = measurement.targets.wishes.a4 * 2 ** (measurement.shift / 1200)
    way = "sharp" if measurement.shift > 0 else "flat"
    words = (
        f"The whole harp lies {abs(measurement.shift):.1f} cents {way} of its targets, as if made "
        f"for A {a4:.1f}. If that is meant, give that reference pitch; there is then less to do."
    )
    return [Remark(Matter.HARP, (), words, measurement.shift)]


def _off(reed: ReedMeasure, tolerance: float) -> list[Remark]:
    size = abs(reed.cents)
    if size <= tolerance:
        return []
    name = reed_words(reed.reed)
    way, work = ("sharp", "lower it") if reed.cents > 0 else ("flat", "raise it")
    if size <= SURELY * reed.uncertainty:
        words = f"{name}: perhaps {size:.1f} cents {way}, but measure it again first."
    else:
        words = f"{name}: {size:.1f} cents {way}; {work}."
    return [Remark(Matter.OFF, (reed.reed,), words, size)]


def _of_one(reed: ReedMeasure) -> list[Remark]:
    found = []
    name = reed_words(reed.reed)
    if reed.wander > UNSTEADY:
        words = (
            f"{name} is unsteady: it wanders by {reed.wander:.1f} cents while it is held. Sound it "
            "again with an even breath; if it still does, look for a loose rivet or dirt."
        )
        found.append(Remark(Matter.UNSTEADY, (reed.reed,), words, reed.wander))
    beside = reed.attack_beside
    if beside is not None and beside > SLOW_BESIDE and reed.attack > SLOW:
        words = (
            f"{name} is slow to speak: {1000 * reed.attack:.0f} ms, {beside:.1f} times its "
            "neighbours. Look at its gap."
        )
        found.append(Remark(Matter.SLOW, (reed.reed,), words, beside))
    level = reed.level_beside
    if level is not None and level < WEAK:
        words = f"{name} is weaker than its neighbours by {-level:.1f} dB. Look at gap and leaks."
        found.append(Remark(Matter.WEAK, (reed.reed,), words, level))
    return found


def _disagreement(reed: ReedMeasure, measurement: Measurement) -> list[Remark]:
    tones = _tones_of(reed.reed, measurement.tones)
    if len(tones) < 2:
        return []
    cents = [each.cents for each in tones]
    spread = max(cents) - min(cents)
    doubt = hypot(*sorted(each.tone.uncertainty for each in tones)[-2:])
    if spread <= max(DISAGREES, SURELY * doubt):
        return []
    heard = ", ".join(f"{each:+.1f}" for each in cents)
    words = (
        f"{reed_words(reed.reed)} was heard {len(tones)} times at {heard} cents. If it was worked "
        "on in between, the last one counts; else measure it again."
    )
    return [Remark(Matter.DISAGREES, (reed.reed,), words, spread)]


def _heard_together(measurement: Measurement) -> list[Remark]:
    found = []
    for each in measurement.tones:
        beats = each.tone.beats
        if each.reed is None or each.upper is None or beats is None:
            continue
        low, high = measurement.targets.of(each.reed), measurement.targets.of(each.upper)
        wanted = _rate(_hz(low, measurement), _hz(high, measurement), *beats.partials)
        if beats.rate > wanted + BEATS_MORE:
            found.append(_beat_remark(low, high, beats.rate, beats.uncertainty, wanted, "beat"))
    return found


def _beating(measurement: Measurement) -> list[Remark]:
    """Unisons and octaves of one breath that were heard one by one, as they would beat together."""
    together = {
        frozenset((each.reed, each.upper))
        for each in measurement.tones
        if each.reed is not None and each.upper is not None and each.tone.beats is not None
    }
    found = []
    for one, other in combinations(measurement.reeds, 2):
        if one.reed.breath is not other.reed.breath or {one.reed, other.reed} in together:
            continue
        low, high = measurement.targets.of(one.reed), measurement.targets.of(other.reed)
        if high.midi < low.midi:
            low, high, one, other = high, low, other, one
        if high.midi - low.midi not in (0, 12) or abs(low.reed.hole - high.reed.hole) > (
            WITHIN_A_MOUTH
        ):
            continue
        partials = (2, 1) if high.midi > low.midi else (1, 1)
        rate = _rate(one.hz, other.hz, *partials)
        doubt = partials[0] * one.hz * log(2) / 1200 * hypot(one.uncertainty, other.uncertainty)
        wanted = _rate(_hz(low, measurement), _hz(high, measurement), *partials)
        if wanted + max(BEATS_MORE, SURELY * doubt) < rate < TOO_FAST:
            found.append(_beat_remark(low, high, rate, doubt, wanted, "would beat"))
    return found


def _beat_remark(
    low: ReedTarget, high: ReedTarget, rate: float, doubt: float, wanted: float, verb: str
) -> Remark:
    kind = "octave" if high.midi > low.midi else "unison"
    if high.midi - low.midi not in (0, 12):
        kind = "pair"
    words = (
        f"{reed_words(low.reed)} and {reed_words(high.reed)} ({kind}) {verb} at "
        f"{rate:.2f} ± {max(0.01, doubt):.2f} Hz"
    )
    words += f", their targets at {wanted:.2f} Hz." if wanted >= 0.005 else "."
    return Remark(Matter.BEATS, (low.reed, high.reed), words, rate - wanted)


def _doubts(measurement: Measurement) -> list[Remark]:
    found = []
    for reed in measurement.reeds:
        tones = _tones_of(reed.reed, measurement.tones)
        if reed.others and max(each.sure for each in tones) < LIKELY:
            others = " or ".join(reed_words(other) for other in reed.others)
            words = (
                f"{reed_words(reed.reed)} may be {others}: they sound the same note, and the order "
                "does not tell them apart. Sound them hole by hole, or say the order."
            )
            found.append(Remark(Matter.UNSURE, (reed.reed, *reed.others), words))
    if measurement.missing:
        words = "Not heard: " + ", ".join(reed_words(reed) for reed in measurement.missing) + "."
        found.append(Remark(Matter.MISSING, measurement.missing, words))
    strays = [each.tone for each in measurement.tones if each.reed is None]
    if strays:
        at = ", ".join(f"{tone.hz:.1f} Hz at {tone.start:.1f} s" for tone in strays)
        found.append(Remark(Matter.STRAY, (), f"No reed of this harp is near: {at}."))
    return found


def _tones_of(reed: Reed, tones: Sequence[NamedTone]) -> list[NamedTone]:
    return [each for each in tones if each.reed == reed and each.upper is None]


def _hz(target: ReedTarget, measurement: Measurement) -> float:
    return target.bench_hz if measurement.at_bench else target.hz


def _rate(low: float, high: float, of_low: int, of_high: int) -> float:
    """Hz of the beats of two partials: the difference of their frequencies."""
    return abs(of_low * low - of_high * high)
