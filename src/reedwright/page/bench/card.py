"""The card that goes with a harp to the one who plays it: two sides, cut out and folded.

A card is 132 x 96 mm. Folded in four along its length (the fold marks stand at the edges) it is
33 x 96 mm and lies in the case of a ten-hole harp beside it (such harps are about 100 x 27 mm, from
memory). One, two or four stand on a page, fronts on the first and backs on the second, so that a
page printed on both sides (turned on its short edge) is cut into finished cards.

Public: `harp_card`, `harp_card_pdf`, `CARD_SIZE`.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from reedwright.errors import ReedwrightError
from reedwright.harp.cautions import CARD_CAUTION
from reedwright.harp.model import Harp
from reedwright.page.bench.cardcontent import (
    CARE,
    VALVE_CARE,
    position_words,
    positions,
    standard_harp,
    tunes_on,
    tuning_words,
    valve_words,
)
from reedwright.page.bench.content import chart_words
from reedwright.page.bench.papers import Paper, paper_named, typeset
from reedwright.page.bench.words import capital, date_words, pitch_words, temperament_words
from reedwright.page.content import signs_in_print
from reedwright.page.harpchart import chart_svg, chart_width
from reedwright.tune.model import Tune
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.targets.model import Targets, TargetWishes

TEMPLATE = "harp-card.typ"
CARD_SIZE = (132.0, 96.0)  # mm
FOLDS = 4  # parts along the length
MOST_TITLES = 60  # of a list; more never have room
EDGE = 6.0  # mm of a page that printers leave white, and where the cut marks stand


def harp_card_pdf(
    harp: Harp | Targets,
    *,
    base: Harp | None = None,
    tunes: Sequence[Tune] = (),
    name: str = "",
    owner: str = "",
    maker: str = "",
    date: date | str | None = None,
    count: int = 1,
    paper: str = "a4",
) -> bytes:
    """Cards for one harp as PDF/UA-1: the same bytes for the same input.

    Parameters
    ----------
    harp: the harp, or its targets, which say in what temperament and at what pitch it is tuned.
    base: the harp that it is compared with; the standard harp with the same home note if not said.
    tunes: those that are named on it, by what they need; as many as there is room for.
    name: what the harp is called, in place of its tuning and key, which then stand below.
    owner: whom the harp is for; without it there is a line to write it on.
    maker: who tuned it, in your own words.
    count: how many cards, alike; 1, 2 and 4 fill a page of A4 or Letter, on A5 there is one.
    paper: a4, letter or a5.

    Raises
    ------
    NotTypeset, and ReedwrightError for paper or words that will not do.
    """
    targets = harp if isinstance(harp, Targets) else reed_targets(harp, TargetWishes(a4=harp.a4))
    harp = targets.harp
    chosen = paper_named(paper)
    columns, rows, pages = _grid(count, chosen)
    chart = chart_svg(harp, title="")
    title = signs_in_print(harp.name)
    found = tunes_on(harp, tunes)
    lists = (
        ("Without bends", found.plain),
        ("With bends", found.bent),
        ("Not all notes are there", found.incomplete),
    )
    temperament = temperament_words(targets.wishes.temperament)
    data = {
        "title": f"Card: {name or title}",
        "description": f"Card for the {title}: how it is tuned, what to play on it, its care.",
        "paper": chosen.name,
        "card": {"width": CARD_SIZE[0], "height": CARD_SIZE[1], "folds": FOLDS},
        "columns": columns,
        "rows": rows,
        "pages": pages,
        "heading": name or capital(title),
        "harp": title if name else "",
        "pitch": pitch_words(targets.wishes.a4),
        "temperament": temperament,
        "tuning": tuning_words(harp, base or standard_harp(harp)),
        "valves": valve_words(harp),
        "slide": bool(harp.tuning.slide),
        "chart": {"svg": chart, "width": chart_width(chart), "alt": chart_words(harp)},
        "positions": [position_words(line) for line in positions(harp)],
        "tunes": [
            {"label": label, "titles": list(titles[:MOST_TITLES]), "total": len(titles)}
            for label, titles in lists
            if titles
        ],
        "care": [*CARE[:-1], *([VALVE_CARE] if harp.isolated else []), CARE[-1]],
        "caution": CARD_CAUTION,
        "owner": owner,
        "maker": maker,
        "date": date_words(date),
    }
    return typeset(TEMPLATE, data)


def _grid(count: int, paper: Paper) -> tuple[int, int, int]:
    """Columns, rows and pages. Fronts and backs meet as the grid is the same in the middle of both.

    The page lies on its side.
    """
    if count < 1:
        raise ReedwrightError(f"{count} cards: ask for one or more.")
    across = int((paper.height - 2 * EDGE) // CARD_SIZE[0])
    down = int((paper.width - 2 * EDGE) // CARD_SIZE[1])
    columns = min(across, 2 if count > 2 else 1)
    rows = min(down, 2 if count > 1 else 1)
    return columns, rows, -(-count // (columns * rows))
