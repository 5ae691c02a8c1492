"""Conversions as plain data, ready for JSON. Pitches in Hz at the bench, changes in cents.

Public: `conversion_report`, `plan_report`, `stocks_report`, `worklist_report`, `harp_data`.
"""

from __future__ import annotations

from collections.abc import Sequence

from reedwright.harp.layout import note_name
from reedwright.harp.model import Harp, Reed, Sounding
from reedwright.workshop.changes import bend_changes
from reedwright.workshop.conversion.donors import longer_mm
from reedwright.workshop.conversion.handwork import caution_words
from reedwright.workshop.conversion.model import Conversion, Donor, Purchase, ReedWork, WorkList
from reedwright.workshop.conversion.steps import Step, bench_steps, worklist_steps
from reedwright.workshop.targets.setting import beat_wish_words


def conversion_report(conversion: Conversion) -> dict[str, object]:
    """The whole plan. `works` in bench order; `steps` name each work by its place there."""
    stock, wanted = conversion.stock, conversion.wanted
    wishes = conversion.targets.wishes
    return {
        "name": conversion.name,
        "stock": harp_data(stock),
        "wanted": harp_data(wanted),
        "temperament": str(wishes.temperament),
        "a4": wishes.a4,
        "pressure": wishes.pressure,
        "stretch": wishes.stretch,
        "set_beats": [beat_wish_words(wish) for wish in wishes.beats],
        "semitones": round(conversion.semitones, 4),
        "effort": round(conversion.effort, 4),
        "reeds_retuned": len(conversion.retuned),
        "works": [_work(work, conversion) for work in conversion.works],
        "steps": [
            {
                "stage": step.stage.value,
                "text": step.text,
                **_turns(step, conversion),
            }
            for step in bench_steps(conversion)
        ],
        "changes": [
            {
                "hole": change.hole,
                "gained": [_sounding(way, wanted) for way in change.gained],
                "lost": [_sounding(way, wanted) for way in change.lost],
            }
            for change in conversion.changes
        ],
        "bends": [
            {
                **_reed(change.reed),
                "before": change.before,
                "after": change.after,
                "overbend_before": change.over_before,
                "overbend_after": change.over_after,
            }
            for change in bend_changes(stock, wanted)
        ],
        "notes": list(conversion.notes),
        "caution": caution_words([conversion]),
    }


def plan_report(worklist: WorkList) -> dict[str, object]:
    """Of one harp its conversion and what to buy for it; of several `worklist_report`."""
    if len(worklist.conversions) != 1:
        return worklist_report(worklist)
    return conversion_report(worklist.conversions[0]) | _bought(worklist)


def stocks_report(ranked: Sequence[Conversion]) -> list[dict[str, object]]:
    """The harps that one may start from, the one with the least work first."""
    return [
        {
            "rank": rank,
            "stock": harp_data(each.stock),
            "reeds_retuned": len(each.retuned),
            "works": {
                kind: sum(work.work.value == kind for work in each.works)
                for kind in ("raise", "lower", "swap", "touch up")
            },
            "semitones": round(each.semitones, 4),
            "effort": round(each.effort, 4),
        }
        for rank, each in enumerate(ranked, start=1)
    ]


def worklist_report(worklist: WorkList) -> dict[str, object]:
    """What to buy, the plans, and the order over all: conversions and works count from 0."""
    return {
        **_bought(worklist),
        "conversions": [conversion_report(each) for each in worklist.conversions],
        "order": [{"conversion": c, "work": w} for c, w in worklist.order],
        "steps": [
            {
                "stage": shared.stage.value,
                "text": shared.text,
                "harps": [
                    {"conversion": c, **_turns(step, worklist.conversions[c])}
                    for c, step in shared.harps
                ],
            }
            for shared in worklist_steps(worklist)
        ],
        "caution": caution_words(worklist.conversions),
    }


def _bought(worklist: WorkList) -> dict[str, object]:
    return {
        "shopping": [_taken(each) for each in worklist.shopping],
        "from_hand": [_taken(each) for each in worklist.from_hand],
        "fewest_proven": worklist.exact,
    }


def _turns(step: Step, conversion: Conversion) -> dict[str, object]:
    """The works of a stage by their places, and the pairs that are tried in it."""
    return {
        "works": [conversion.works.index(work) for work in step.works],
        "pairs": [
            {
                "breath": pair.lower.breath.value,
                "holes": [pair.lower.hole, pair.upper.hole],
                "semitones": pair.semitones,
                "beats": round(pair.beats, 3),
            }
            for pair in step.pairs
        ],
    }


def _taken(taken: Purchase) -> dict[str, object]:
    return {
        "harp": harp_data(taken.harp),
        "number": taken.number,
        "as_donor": taken.as_donor,
        "used_for": list(taken.used_for),
    }


def harp_data(harp: Harp) -> dict[str, object]:
    """A harp's names, as `--json` prints them elsewhere."""
    return {
        "name": harp.name,
        "key": harp.key,
        "tuning": harp.tuning.name,
        "register": harp.register,
    }


def _work(work: ReedWork, conversion: Conversion) -> dict[str, object]:
    wanted = conversion.wanted
    return {
        **_reed(work.reed),
        "work": work.work.value,
        "from": note_name(work.from_midi, wanted),
        "to": note_name(work.to_midi, wanted),
        "from_hz": round(work.from_hz, 3),
        "to_hz": round(work.to_hz, 3),
        "cents": round(work.cents, 2),
        "coarse_hz": None if work.coarse_hz is None else round(work.coarse_hz, 3),
        "how": work.how,
        "check": work.check,
        "finish": work.finish,
        "warning": work.warning,
        "by_weight": work.by_weight,
        "effort": round(work.effort, 4),
        "hardness": work.hardness,
        "donors": [_donor(donor, wanted, work.reed) for donor in work.donors],
    }


def _donor(donor: Donor, harp: Harp, reed: Reed) -> dict[str, object]:
    """`longer_mm`: than the slot, by the table of sizes from memory; below 0: shorter."""
    return {
        "harp": harp_data(donor.harp),
        **_reed(donor.reed),
        "semitones": donor.semitones,
        "longer_mm": round(longer_mm(donor, harp, reed), 2) + 0.0,
    }


def _reed(reed: Reed) -> dict[str, object]:
    return {"hole": reed.hole, "breath": reed.breath.value}


def _sounding(way: Sounding, harp: Harp) -> dict[str, object]:
    return {
        "breath": way.breath.value,
        "technique": way.technique.value,
        "note": note_name(way.midi, harp),
        "midi": way.midi,
        "bend": way.bend,
        "slide": way.slide,
    }
