"""Targets and beats as plain data, for `--json`: cents and Hz to a thousandth.

Public: `targets_report`, `beats_report`, `pair_report`, `answers_report`, `temperaments_report`.
"""

from __future__ import annotations

from collections.abc import Iterable

from reedwright.harp.layout import note_name
from reedwright.harp.model import Breath, Harp, Reed
from reedwright.workshop.targets.beating import BeatAnswer
from reedwright.workshop.targets.beats import PairBeats, chord_beats, pair_beats
from reedwright.workshop.targets.chords import breath_chord
from reedwright.workshop.targets.making import reed_targets, slide_in
from reedwright.workshop.targets.model import BeatWish, ReedTarget, Targets
from reedwright.workshop.targets.temperaments import ReedTemperament


def targets_report(targets: Targets) -> dict[str, object]:
    """The wishes, the chord of each breath, and every reed."""
    harp, wishes = targets.harp, targets.wishes
    report: dict[str, object] = {
        "harp": harp.name,
        "tuning": harp.tuning.name,
        "key": harp.key,
        "temperament": str(wishes.temperament),
        "a4": wishes.a4,
        "pressure": wishes.pressure,
        "stretch": wishes.stretch,
        "set_beats": [_wish(each) for each in wishes.beats],
        "chords": {breath.value: breath_chord(harp, breath).title for breath in Breath},
        "reeds": [_target(each, harp) for each in targets.reeds],
    }
    if harp.tuning.slide:
        pushed = reed_targets(slide_in(harp), wishes)
        report["slide_in"] = [_target(each, pushed.harp) for each in pushed.reeds]
    return report


def beats_report(targets: Targets) -> dict[str, object]:
    """Every pair that a player sounds together, and every three neighbouring holes."""
    return {
        "harp": targets.harp.name,
        "temperament": str(targets.wishes.temperament),
        "a4": targets.wishes.a4,
        "pressure": targets.wishes.pressure,
        "stretch": targets.wishes.stretch,
        "set_beats": [_wish(each) for each in targets.wishes.beats],
        "pairs": [pair_report(targets, pair) for pair in pair_beats(targets)],
        "chords": [
            {
                "breath": chord.breath.value,
                "holes": list(chord.holes),
                "name": chord.name,
                "quickest": round(chord.fastest, 3),
                "pure": chord.pure,
            }
            for chord in chord_beats(targets)
        ],
    }


def pair_report(targets: Targets, pair: PairBeats) -> dict[str, object]:
    """One pair as it is."""
    return {
        "kind": pair.kind.value,
        "lower": {**_place(pair.lower), "note": _note(pair.lower, targets)},
        "upper": {**_place(pair.upper), "note": _note(pair.upper, targets)},
        "interval": pair.interval,
        "semitones": pair.semitones,
        "cents": round(pair.cents, 3),
        "partials": list(pair.partials),
        "rate": round(pair.rate, 3),
        "beats": round(pair.beats, 3),
        "bench_beats": round(abs(pair.bench_rate), 3),
        "pure": pair.pure,
    }


def answers_report(targets: Targets, answers: Iterable[BeatAnswer]) -> list[dict[str, object]]:
    """Each answer of `beat_answers`: the moved reed, how far it moves, the pair's beats then."""
    return [
        {
            "reed": _target(answer.target, targets.harp),
            "moved_cents": round(answer.moved, 3),
            "pair": pair_report(targets, answer.beats),
        }
        for answer in answers
    ]


def temperaments_report(temperaments: Iterable[ReedTemperament]) -> list[dict[str, object]]:
    """Names, titles, descriptions and sources."""
    return [
        {
            "name": each.name,
            "title": each.title,
            "description": each.description,
            "source": each.source,
        }
        for each in temperaments
    ]


def _target(target: ReedTarget, harp: Harp) -> dict[str, object]:
    return {
        **_place(target.reed),
        "note": note_name(target.midi, harp),
        "midi": target.midi,
        "cents": round(target.cents, 3),
        "hz": round(target.hz, 3),
        "bench_cents": round(target.bench_cents, 3),
        "bench_hz": round(target.bench_hz, 3),
        "role": target.role,
    }


def _wish(wish: BeatWish) -> dict[str, object]:
    return {
        "breath": wish.moved.breath.value,
        "fixed": wish.fixed.hole,
        "set": wish.moved.hole,
        "beats": wish.rate,
        "width": wish.width.value,
    }


def _place(reed: Reed) -> dict[str, object]:
    return {"hole": reed.hole, "breath": reed.breath.value}


def _note(reed: Reed, targets: Targets) -> str:
    return note_name(targets.of(reed).midi, targets.harp)
