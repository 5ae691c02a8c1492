"""Labels for a harp's box or cover, at true size with lines to cut along.

Public: `labels`, `labels_pdf`, `LABEL_SIZE`.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Harp
from reedwright.page.bench.papers import Paper, paper_named, typeset
from reedwright.page.bench.words import date_words, pitch_words, temperament_title
from reedwright.page.content import signs_in_print
from reedwright.tab.words import counted
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.targets.model import Targets, TargetWishes

TEMPLATE = "harp-label.typ"
LABEL_SIZE = (60.0, 20.0)  # mm; fits the lid of a ten-hole harp's case (from memory)
SMALLEST = (30.0, 12.0)  # mm, that five lines can be read on
SIDE_MARGIN, TOP_MARGIN, BOTTOM_MARGIN = 10.0, 18.0, 10.0  # mm; words on cutting stand at the top
STANDARD = "standard tuning"


def labels_pdf(
    harps: Harp | Targets | Sequence[Harp | Targets],
    *,
    count: int = 1,
    name: str = "",
    maker: str = "",
    date: date | str | None = None,
    size: tuple[float, float] = LABEL_SIZE,
    paper: str = "a4",
) -> bytes:
    """Labels as PDF/UA-1, as many pages as they take: the same bytes for the same input.

    Parameters
    ----------
    harps: one or several; targets say in what temperament and at what pitch a harp is tuned.
    count: how many of each.
    name, maker: what else stands on each, in your own words; who made it, whose it is.
    size: width and height of a label, mm.
    paper: a4, letter or a5.

    Raises
    ------
    NotTypeset, and ReedwrightError for sizes, paper or words that will not do.
    """
    chosen = paper_named(paper)
    if count < 1:
        raise ReedwrightError(f"{count} labels: ask for one or more.")
    columns, rows = _grid(size, chosen)
    several = [harps] if isinstance(harps, Harp | Targets) else list(harps)
    if not several:
        raise ReedwrightError("No harp to label: name one.")
    given = [_label(each, name, maker, date_words(date)) for each in several]
    names = str(given[0]["harp"]) if len(given) == 1 else counted(len(given), "harp")
    data = {
        "title": f"Labels: {names}",
        "description": f"Labels to cut out for {names}.",
        "paper": chosen.name,
        "margins": {"side": SIDE_MARGIN, "top": TOP_MARGIN, "bottom": BOTTOM_MARGIN},
        "label": {"width": size[0], "height": size[1]},
        "columns": columns,
        "rows": rows,
        "labels": [each | {"copy": copy > 0} for each in given for copy in range(count)],
    }
    return typeset(TEMPLATE, data)


def _label(harp: Harp | Targets, name: str, maker: str, day: str) -> dict[str, object]:
    targets = harp if isinstance(harp, Targets) else reed_targets(harp, TargetWishes(a4=harp.a4))
    harp, wishes = targets.harp, targets.wishes
    register = "" if harp.register == "ordinary" else harp.register
    return {
        "harp": signs_in_print(harp.name),
        "register": register,
        "key": signs_in_print(harp.key),
        "tuning": STANDARD if harp.tuning.name == "richter" else harp.tuning.title,
        "valves": ""
        if harp.valving == "fully valved" and harp.tuning.valves == "full"
        else harp.valving,
        "tuned": f"{temperament_title(wishes.temperament)}, {pitch_words(wishes.a4)}",
        "words": " · ".join(each for each in (name, maker) if each),
        "date": day,
    }


def _grid(size: tuple[float, float], paper: Paper) -> tuple[int, int]:
    """How many labels stand beside and below each other."""
    width, height = size
    if width < SMALLEST[0] or height < SMALLEST[1]:
        raise ReedwrightError(
            f"A label of {width:g} x {height:g} mm is too small to read; make it at least "
            f"{SMALLEST[0]:g} x {SMALLEST[1]:g} mm."
        )
    columns = int((paper.width - 2 * SIDE_MARGIN) // width)
    rows = int((paper.height - TOP_MARGIN - BOTTOM_MARGIN) // height)
    if not columns or not rows:
        raise ReedwrightError(
            f"A label of {width:g} x {height:g} mm does not fit the paper; make it smaller."
        )
    return columns, rows
