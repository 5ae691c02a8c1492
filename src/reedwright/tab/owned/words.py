"""What to buy or retune, in words for a terminal and as plain data (docs/formats.md).

Public: `next_best_text`, `next_best_report`, `add_next_best`, `reed_words`.
"""

from __future__ import annotations

from typing import cast

from reedwright.harp.cautions import SHORT_CAUTION
from reedwright.harp.layout import note_name
from reedwright.tab.owned.harps import NextBest, RetunedReed, Retuning
from reedwright.tab.ranking import RankedHarp
from reedwright.tab.report import ranking_report
from reedwright.tab.words import counted, with_article
from reedwright.tune.model import Tune


def next_best_text(found: NextBest | None) -> str:
    """A few lines: what to buy, what to retune and how, each with what it brings."""
    if found is None:
        return "No harp to buy and no small retuning would make it much easier."
    lines = ["Easier still:"]
    if found.buy is not None:
        ranked = found.buy.ranked
        lines.append(f"  buy     {with_article(ranked.harp.name)}: {_gain(ranked, found.now)}")
        lines.append(f"          {ranked.why}")
    if found.retune is not None:
        ranked, retune = found.retune.ranked, found.retune
        lines.append(
            f"  retune  your {retune.owned.name}, which becomes "
            f"{with_article(ranked.harp.name)}: {_gain(ranked, found.now)}"
        )
        lines.append(f"          {ranked.why}")
        lines += [f"          {reed_words(each, retune)}" for each in retune.reeds]
    return "\n".join(lines)


def reed_words(each: RetunedReed, retuning: Retuning) -> str:
    """`hole 3 blow from G4 up to A4, 2 semitones`, spelled in the key of the harp."""
    hole, breath = each.reed
    way = "up" if each.semitones > 0 else "down"
    return (
        f"hole {hole} {breath.value} from {note_name(each.from_midi, retuning.owned)} {way} to "
        f"{note_name(each.to_midi, retuning.owned)}, {counted(abs(each.semitones), 'semitone')}"
    )


def _gain(offer: RankedHarp, now: RankedHarp) -> str:
    if now.missing > offer.missing:
        lacking = counted(offer.missing, "note", number=lambda few: str(few or "no"))
        return f"{lacking} missing instead of {now.missing}"
    return f"{offer.effort_per_note:.2f} effort a note instead of {now.effort_per_note:.2f}"


def next_best_report(tune: Tune, found: NextBest | None) -> dict[str, object]:
    """`buy` and `retune`, each null or a harp as in the ranking's list with what it takes."""
    buy = found.buy if found else None
    retune = found.retune if found else None
    return {
        "buy": None if buy is None else _entry(tune, buy.ranked),
        "retune": None
        if retune is None
        else {
            **_entry(tune, retune.ranked),
            "owned": retune.owned.name,
            "reeds": [
                {
                    "hole": each.reed.hole,
                    "breath": each.reed.breath.value,
                    "from": note_name(each.from_midi, retune.owned),
                    "to": note_name(each.to_midi, retune.owned),
                    "semitones": each.semitones,
                }
                for each in retune.reeds
            ],
            "caution": SHORT_CAUTION,
        },
    }


def add_next_best(report: dict[str, object], tune: Tune, found: NextBest | None) -> None:
    """Puts `next_best` into the first harp of a `ranking_report`, which it is better than."""
    harps = cast("list[dict[str, object]]", report["harps"])
    if harps:
        harps[0]["next_best"] = next_best_report(tune, found)


def _entry(tune: Tune, ranked: RankedHarp) -> dict[str, object]:
    (entry,) = cast("list[dict[str, object]]", ranking_report(tune, (ranked,))["harps"])
    return {key: value for key, value in entry.items() if key != "rank"}
