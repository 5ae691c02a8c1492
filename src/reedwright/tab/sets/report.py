"""Fewest harps, the trade of harps against effort, and evenings as plain data, JSON-ready.

The shapes are documented in docs/sets.md. Public: `harps_report`, `frontier_report`,
`evening_report`.
"""

from __future__ import annotations

from collections.abc import Sequence

from reedwright.tab.report import harp_report
from reedwright.tab.sets.evenings import PlannedEvening
from reedwright.tab.sets.fewest import HarpChoice, LeftOut, Step
from reedwright.tab.sets.model import Evening
from reedwright.tune.model import Tune

_DECIMALS = 4


def _tune(tune: Tune) -> dict[str, object]:
    return {"title": tune.title, "number": tune.number, "key": tune.key.name, "type": tune.type}


def _left_out(left_out: Sequence[LeftOut]) -> list[dict[str, object]]:
    return [{**_tune(each.tune), "place": each.place, "why": each.why} for each in left_out]


def harps_report(choice: HarpChoice) -> dict[str, object]:
    """The harps, each tune with its harp, what is left out, and how far it is proven."""
    tunes, counts, effort = choice.gap
    return {
        "harps": [harp_report(harp) for harp in choice.harps],
        "counts": choice.counts,
        "effort": round(choice.effort, _DECIMALS),
        "effort_per_note": round(choice.effort_per_note, _DECIMALS),
        "proven": choice.proven,
        "gap": {"tunes": tunes, "counts": counts, "effort": effort},
        "tunes": [
            {
                **_tune(each.tune),
                "place": each.place,
                "harp": choice.harps.index(each.harp),
                "octaves": each.octaves,
                "semitones": each.semitones,
                "effort_per_note": round(each.effort_per_note, _DECIMALS),
                "bends": each.bends,
                "overblows": each.overblows,
                "missing": each.missing,
            }
            for each in choice.tunes
        ],
        "left_out": _left_out(choice.left_out),
    }


def frontier_report(steps: Sequence[Step]) -> list[dict[str, object]]:
    """One entry for each number of harps."""
    return [
        {
            "most": step.most,
            "words": step.words,
            "saved": round(step.saved, _DECIMALS),
            "gained": [_tune(tune) for tune in step.gained],
            "worst": None if step.choice.worst is None else step.choice.worst.place,
            "choice": harps_report(step.choice),
        }
        for step in steps
    ]


def evening_report(planned: PlannedEvening | Evening) -> dict[str, object]:
    """The evening; of one that was planned also what is left out and how good it is."""
    evening = planned.evening if isinstance(planned, PlannedEvening) else planned
    report: dict[str, object] = {
        "title": evening.title,
        "harps": [harp_report(harp) for harp in evening.harps],
        "sets": [
            {
                "name": each.name,
                "why": each.why,
                "tunes": [
                    {
                        **_tune(entry.tune),
                        "harp": evening.harps.index(entry.harp),
                        "octaves": entry.octaves,
                        "semitones": entry.semitones,
                        "effort_per_note": round(entry.effort_per_note, _DECIMALS),
                        "times": entry.times,
                        "why": entry.why,
                    }
                    for entry in each.entries
                ],
            }
            for each in evening.sets
        ],
    }
    if isinstance(planned, PlannedEvening):
        report["seconds"] = round(planned.seconds, 1)
        report["cost"] = round(planned.cost, _DECIMALS)
        report["short_of"] = round(planned.short_of, _DECIMALS)
        report["ordered"] = planned.ordered
        report["left_out"] = _left_out(planned.left_out)
    return report
