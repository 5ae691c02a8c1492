"""The bench sheet: what to do to one harp, reed by reed, with room to write; and the work list.

Public: `bench_sheet`, `bench_sheet_pdf`, `worklist_sheet`, `worklist_pdf`. The look is a Typst
template, templates/bench-sheet.typ; the pages are PDF/UA-1, the same bytes for the same input.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date

from reedwright.harp.cautions import CAUTIONS, SHORT_CAUTION
from reedwright.page.bench.content import sheet_data, sheet_title
from reedwright.page.bench.papers import Paper, paper_named, template_path, typeset
from reedwright.page.bench.words import capital, date_words, ranges
from reedwright.page.content import signs_in_print
from reedwright.page.press import Press, page_count
from reedwright.tab.words import counted, listed
from reedwright.workshop.conversion.model import Conversion, Purchase, WorkList
from reedwright.workshop.conversion.order import Stage
from reedwright.workshop.conversion.steps import worklist_steps
from reedwright.workshop.measuring.model import Measurement
from reedwright.workshop.targets.beats import PairBeats
from reedwright.workshop.targets.model import Targets
from reedwright.workshop.valving.advice import VALVE_CAUTIONS
from reedwright.workshop.valving.model import ValvePlan

TEMPLATE = "bench-sheet.typ"
SIDE_MARGIN, SMALL_SIDE_MARGIN = 13.0, 9.0  # mm
TOP_MARGIN, BOTTOM_MARGIN = 12.0, 11.0  # mm
SMALL_PAPER = 160.0  # mm wide: below it type and margins are smaller
TEXT, SMALL_TEXT = 10.0, 8.6  # points
# Smaller type for a harp whose sheet would need more than two pages, where it saves one; the
# smallest word on it, at four fifths of this, is 7 points.
TIGHTER = (9.4, 8.8)
MOST_PAGES = 2


def bench_sheet_pdf(
    plan: Conversion | Targets,
    *,
    measured_before: Measurement | None = None,
    measured_after: Measurement | None = None,
    valve_plan: ValvePlan | None = None,
    beats: Sequence[PairBeats] | None = None,
    name: str = "",
    date: date | str | None = None,
    paper: str = "a4",
    shopping: WorkList | None = None,
) -> bytes:
    """The bench sheet of one harp as PDF/UA-1: the same bytes for the same input.

    Parameters
    ----------
    plan: a conversion, or the targets of a harp that is only to be tuned.
    measured_before, measured_after: printed into their columns; without them the columns are
        left free for the pencil.
    valve_plan: printed with a picture of both plates, where given.
    beats: the pairs of reeds to listen to; the octaves that are played together if not said.
    name: a name for the harp, in place of its tuning and key.
    shopping: the list that this harp is on: what to buy is printed where harps give it reeds.
    date: as it is to be printed; None leaves a line to write it on.
    paper: a4, letter or a5.

    Raises
    ------
    NotTypeset, and ReedwrightError for a paper that there is not.
    """
    chosen = paper_named(paper)
    room = chosen.width - 2 * _side(chosen)
    sheet = sheet_data(plan, room, measured_before, measured_after, valve_plan, beats, name)
    title = name or capital(sheet_title(plan))
    data = _frame(chosen, title, f"Bench sheet: {title}.", date) | {"sheets": [sheet]}
    swaps = shopping is not None and any(
        each.as_donor for each in (*shopping.shopping, *shopping.from_hand)
    )
    data |= {"cautions": _cautions([valve_plan]), "alone": True}
    data |= _to_buy(shopping if swaps else None)
    press = Press(template_path(TEMPLATE))
    pdf = press.typeset(data)
    if page_count(pdf) > MOST_PAGES and not data["small"]:
        smaller = [press.typeset(data | {"text_size": size, "tight": True}) for size in TIGHTER]
        pdf = min(pdf, *smaller, key=page_count)  # of equals the first, in the largest type
    return pdf


def worklist_pdf(
    worklist: WorkList,
    *,
    valve_plans: Sequence[ValvePlan | None] = (),
    name: str = "",
    date: date | str | None = None,
    paper: str = "a4",
) -> bytes:
    """A work list as PDF/UA-1: what to buy, what to do in what order, then each harp's sheet.

    `valve_plans`: one for each conversion, in order, None where it has none. Raises as
    `bench_sheet_pdf` does.
    """
    chosen = paper_named(paper)
    room = chosen.width - 2 * _side(chosen)
    plans = [*valve_plans, *[None] * len(worklist.conversions)]
    title = name or f"Work list: {counted(len(worklist.conversions), 'harp')}"
    data = _frame(chosen, title, f"{title}, with the bench sheet of each.", date) | {
        "cautions": _cautions(plans),
        "order": _order(worklist),
        "sheets": [
            sheet_data(
                conversion, room, valve_plan=plan, name=f"Harp {number}: {sheet_title(conversion)}"
            )
            for number, (conversion, plan) in enumerate(
                zip(worklist.conversions, plans, strict=False), 1
            )
        ],
    }
    return typeset(TEMPLATE, data | _to_buy(worklist))


def _to_buy(worklist: WorkList | None) -> dict[str, object]:
    """What to buy and what to take of the harps at hand; nothing where there is no list."""
    if worklist is None:
        return {"shopping": [], "from_hand": [], "fewer": False}
    return {
        "shopping": [_purchase(each) for each in worklist.shopping],
        "from_hand": [_purchase(each) for each in worklist.from_hand],
        "fewer": not worklist.exact,
    }


def _purchase(purchase: Purchase) -> dict[str, object]:
    used_for = f"harp {ranges(purchase.used_for)}"
    if purchase.as_donor:
        used_for += ": for its reeds" if purchase.number == 1 else ""
        if purchase.number > 1:
            used_for += f": {purchase.as_donor} of them for reeds"
    return {
        "number": purchase.number,
        "harp": signs_in_print(purchase.harp.name),
        "used_for": used_for,
    }


def _order(worklist: WorkList) -> list[dict[str, str]]:
    """The stages of all harps together, each with the works of every harp that it needs."""
    entries = []
    for step in worklist_steps(worklist):
        stage = capital(step.stage.value)
        if step.stage in (Stage.SETTLE, Stage.CHORDS):
            harps = ranges([at + 1 for at, _ in step.harps])
            entries.append({"harp": stage, "works": f"Harp {harps}. {step.text}"})
            continue
        for at, each in step.harps:
            conversion = worklist.conversions[at]
            numbers = [conversion.works.index(work) + 1 for work in each.works]
            kinds = Counter(work.work.value for work in each.works)
            words = listed([f"{count} to {kind}" for kind, count in kinds.items()])
            entries.append(
                {
                    "harp": f"{stage}: harp {at + 1}, {sheet_title(conversion)}",
                    "works": f"{ranges(numbers)}"
                    + ("" if step.stage is Stage.FINE else f": {words}"),
                }
            )
    return entries


def _cautions(plans: Sequence[ValvePlan | None]) -> list[str]:
    """Those of reed work, and those of valves where there are any."""
    return [*CAUTIONS, *(VALVE_CAUTIONS if any(plans) else ())]


def _frame(paper: Paper, title: str, description: str, day: date | str | None) -> dict[str, object]:
    """What every document of this template is given."""
    small = paper.width < SMALL_PAPER
    return {
        "title": title,
        "description": description,
        "paper": paper.name,
        "margins": {"side": _side(paper), "top": TOP_MARGIN, "bottom": BOTTOM_MARGIN},
        "small": small,
        "tight": False,
        "alone": False,
        "text_size": SMALL_TEXT if small else TEXT,
        "date": date_words(day),
        "caution": SHORT_CAUTION,
        "order": [],
    }


def _side(paper: Paper) -> float:
    return SMALL_SIDE_MARGIN if paper.width < SMALL_PAPER else SIDE_MARGIN
