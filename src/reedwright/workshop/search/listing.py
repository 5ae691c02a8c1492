"""The tunings that there are, each with what sets it apart from the standard one.

Public: `tunings_text`, `tuning_report`, `differing`.
"""

from __future__ import annotations

from collections.abc import Iterable

from reedwright.harp.model import Breath, Reed, Tuning
from reedwright.harp.naming import spell
from reedwright.workshop.search.model import Change, Layout, layout_words

_HOME = "C"
_FEW = 6  # reeds that are named one by one


def differing(tuning: Tuning, standard: Tuning) -> Layout | None:
    """The reeds that differ from the standard tuning in the same key; None where holes differ."""
    if tuning.holes != standard.holes or tuning.slide:
        return None
    return tuple(
        Change(Reed(hole, breath), by)
        for hole in range(1, tuning.holes + 1)
        for breath in Breath
        if (by := _reed(tuning, hole, breath) - _reed(standard, hole, breath))
    )


def tunings_text(tunings: Iterable[Tuning], standard: Tuning) -> str:
    """One tuning a line: name, holes where they are not those of the standard, changes."""
    each = list(tunings)
    width = max(len(tuning.name) for tuning in each)
    return "\n".join(f"{tuning.name:{width}}  {_apart(tuning, standard)}" for tuning in each)


def tuning_report(tuning: Tuning, standard: Tuning) -> dict[str, object]:
    """One tuning as plain data; the shape is in docs/tuning-search.md."""
    changes = differing(tuning, standard)
    return {
        "name": tuning.name,
        "title": tuning.title,
        "description": tuning.description,
        "holes": tuning.holes,
        "slide": tuning.slide,
        "blow": [spell(midi, _HOME) for midi in tuning.blow],
        "draw": [spell(midi, _HOME) for midi in tuning.draw],
        "changes": None
        if changes is None
        else [
            {"hole": reed.hole, "breath": reed.breath.value, "semitones": by}
            for reed, by in changes
        ],
    }


def _apart(tuning: Tuning, standard: Tuning) -> str:
    changes = differing(tuning, standard)
    if changes is None:
        slide = ", with a slide" if tuning.slide else ""
        return f"{tuning.holes} holes{slide}"
    if not changes:
        return "the standard tuning" if tuning.name == standard.name else "as the standard tuning"
    if len(changes) <= _FEW:
        return layout_words(changes)
    return f"{len(changes)} reeds differ"


def _reed(tuning: Tuning, hole: int, breath: Breath) -> int:
    reeds = tuning.blow if breath is Breath.BLOW else tuning.draw
    return reeds[hole - 1]
