"""From a filled-in form to a plan, to targets, to the paper for them.

Public: `PlanAsked`, `Planned`, `planned`, `TargetsAsked`, `Tuned`, `tuned`, `hole_rows`, `PAPERS`,
`paper`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Literal

from pydantic import Field

from reedwright.errors import ReedwrightError
from reedwright.harp.layout import note_name
from reedwright.harp.model import Breath, Harp, Reed
from reedwright.page.bench.papers import BENCH_PAPERS
from reedwright.page.content import signs_in_print
from reedwright.page.settings import PAPERS as CUTTING_PAPERS
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.tab.words import with_article
from reedwright.web.bench.asking import Line, WishesAsked, Wrong, harps_asked, wishes_asked
from reedwright.web.harpform import HarpAsked, Word, harp_asked
from reedwright.web.numbers import NumberOrNone
from reedwright.web.ownharps import OwnHarp, own_harp
from reedwright.workshop.conversion.costs import SWAP_OVER
from reedwright.workshop.conversion.model import Conversion, WorkList
from reedwright.workshop.conversion.planning import plan_conversion, rank_stocks
from reedwright.workshop.conversion.stock import OFTEN_SOLD, stock_harps
from reedwright.workshop.conversion.worklist import plan_worklist
from reedwright.workshop.history.comparing import latest
from reedwright.workshop.history.recalling import before_and_after
from reedwright.workshop.measuring.model import Measurement
from reedwright.workshop.measuring.remarks import reed_words
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.targets.model import Targets, TargetWishes
from reedwright.workshop.valving.model import ValvePlan
from reedwright.workshop.valving.planning import plan_valves

From = Literal["best", "sold", "mine", "named"]
PAPERS = tuple(BENCH_PAPERS)
MOST_COPIES = 100  # of a card or label


class TargetsAsked(HarpAsked, WishesAsked):
    """Which harp, tuned how. `ask`: whether the form was sent at all."""

    ask: Word = ""
    mine: NumberOrNone = 0


class PlanAsked(TargetsAsked):
    """What is to be made of what.

    `start`: from the harp that needs least work, from one that is often sold, from a harp of one's
    own (`mine`, its number on the shelf), or from one that is named (`from_...`). `also`: more
    harps to make in one go; `have`: those at hand.
    """

    start: From = "best"
    from_key: Word = "G"
    from_in_register: Word = "ordinary"
    from_tuning: Word = "richter"
    from_valves: Word = ""
    stock_a4: Word = ""
    swap_over: Word = f"{SWAP_OVER:g}"
    also: Line = ""
    have: Line = ""
    name: Word = ""


class PaperAsked(PlanAsked):
    """Which paper, and what is to stand on it in one's own words."""

    paper: Word = "a4"
    maker: Word = ""
    owner: Word = ""
    day: Word = ""
    copies: Annotated[int, Field(ge=1, le=MOST_COPIES)] = 1


@dataclass(frozen=True, slots=True)
class Planned:
    """`worklist` is None where something is wrong, which `wrong` says by field. `ranked`: what else
    one may start from, the least work first (of one harp). `valves`: one for each conversion."""

    worklist: WorkList | None = None
    ranked: tuple[Conversion, ...] = ()
    valves: tuple[ValvePlan | None, ...] = ()
    told: tuple[str, ...] = ()
    own: OwnHarp | None = None
    wrong: Wrong = field(default_factory=Wrong)


def planned(shelf: Shelf, asked: PlanAsked) -> Planned:
    """The plan that a form asks for."""
    wrong = Wrong()
    wanted = harp_asked(asked, wrong)
    also = harps_asked(asked.also, wrong, "also")
    have = harps_asked(asked.have, wrong, "have")
    wishes = wishes_asked(asked, wrong, wanted)
    swap_over = wrong.read(asked.swap_over, "swap_over", SWAP_OVER)
    stock_wishes = _stock_wishes(asked, wishes, wrong)
    own, stock = _start(shelf, asked, wrong)
    if also and own is not None:
        wrong["also"] = "A harp of your own becomes one other harp; plan the others by themselves."
    if wrong or wanted is None:
        return Planned(wrong=wrong)
    measured = latest(own.history) if own is not None else None
    stocks = stock_harps(OFTEN_SOLD) if asked.start == "sold" else stock_harps()
    donors = (*have, *stock_harps())
    try:
        each = tuple(
            plan_conversion(
                harp,
                wishes,
                stock,
                None if stock is not None else stocks,
                stock_wishes=stock_wishes,
                measured=measured or None,
                donors=donors,
                swap_over=swap_over,
                name=(asked.name or (own.item.name if own else "")) if k == 0 else "",
            )
            for k, harp in enumerate((wanted, *also))
        )
        ranked = (
            rank_stocks(
                wanted,
                wishes,
                stocks,
                stock_wishes=stock_wishes,
                donors=donors,
                swap_over=swap_over,
            )
            if stock is None and not also
            else ()
        )
    except ReedwrightError as error:
        wrong["plan"] = str(error)
        return Planned(wrong=wrong)
    at_hand = (*have, *(one.stock for one in each)) if own is not None else have
    worklist = plan_worklist(each, at_hand)
    return Planned(
        worklist,
        ranked,
        tuple(_valves(one.wanted) for one in worklist.conversions),
        _told(each[0], own, measured),
        own,
        wrong,
    )


def _stock_wishes(asked: PlanAsked, wishes: TargetWishes, wrong: Wrong) -> TargetWishes | None:
    if not asked.stock_a4.strip():
        return None
    a4 = wrong.read(asked.stock_a4, "stock_a4", 440.0)
    return TargetWishes(a4=a4, pressure=wishes.pressure)


def _start(shelf: Shelf, asked: PlanAsked, wrong: Wrong) -> tuple[OwnHarp | None, Harp | None]:
    """The harp that the work starts from, and whose it is; none where the plan is to choose."""
    if asked.start == "named":
        named = HarpAsked(
            key=asked.from_key,
            in_register=asked.from_in_register,
            tuning=asked.from_tuning,
            valves=asked.from_valves,
        )
        return None, harp_asked(named, wrong, "from_")
    if asked.start != "mine":
        return None, None
    if not asked.mine:
        wrong["mine"] = "Say which of your harps it is."
        return None, None
    own = own_harp(shelf, asked.mine)
    if own.harp is None:
        wrong["mine"] = own.wrong
    return own, own.harp


def _valves(harp: Harp) -> ValvePlan | None:
    """None for a harp without valves, and for one with a slide, which is valved when it is made."""
    return plan_valves(harp) if harp.isolated and not harp.tuning.slide else None


def _told(
    plan: Conversion, own: OwnHarp | None, measured: Mapping[Reed, float] | None
) -> tuple[str, ...]:
    """What the plan rests on, where it starts from a harp of one's own."""
    if own is None:
        return ()
    unknown = [each.reed for each in plan.targets.reeds if each.reed not in (measured or {})]
    if not unknown:
        return ("All reeds are planned from where they were last measured.",)
    which = (
        "No reed"
        if len(unknown) == len(plan.targets.reeds)
        else f"All but {', '.join(reed_words(reed) for reed in unknown)}"
    )
    verb = "was" if which == "No reed" else "were"
    return (
        f"{which} {verb} measured on {own.item.name} as it is now. What was not measured is taken "
        f"to be where {with_article(plan.stock.name)} has it when new.",
    )


@dataclass(frozen=True, slots=True)
class Tuned:
    """The targets of a harp, or what is wrong with what was asked, by field."""

    targets: Targets | None
    wrong: Wrong
    own: OwnHarp | None = None


def tuned(shelf: Shelf, asked: TargetsAsked) -> Tuned:
    """What each reed is to sound: of the harp of the fields, or of one on the shelf (`mine`)."""
    wrong = Wrong()
    own = own_harp(shelf, asked.mine) if asked.mine else None
    harp = own.harp if own is not None else harp_asked(asked, wrong)
    if own is not None and own.harp is None:
        wrong["mine"] = own.wrong
    wishes = wishes_asked(asked, wrong, harp)
    if wrong or harp is None:
        return Tuned(None, wrong, own)
    return Tuned(reed_targets(harp, wishes), wrong, own)


@dataclass(frozen=True, slots=True)
class ReedRow:
    """One reed in the table of a plan: what it is and what it is to be; Hz, cents.

    `work` is empty where it stays as it is.
    """

    hole: int
    breath: str
    was: str
    note: str
    from_hz: float
    to_hz: float
    cents: float
    work: str = ""
    hardness: str = ""


def hole_rows(plan: Conversion) -> tuple[tuple[ReedRow, ReedRow], ...]:
    """Every hole's two reeds, blow above draw, those that stay as they are with them."""
    works = {work.reed: work for work in plan.works}

    def row(hole: int, breath: Breath) -> ReedRow:
        reed = Reed(hole, breath)
        target = plan.targets.of(reed)
        note = signs_in_print(note_name(target.midi, plan.wanted))
        work = works.get(reed)
        if work is None:
            hz = target.bench_hz
            return ReedRow(hole, breath.value, note, note, hz, hz, 0.0)
        was = signs_in_print(note_name(work.from_midi, plan.wanted))
        return ReedRow(
            hole,
            breath.value,
            was,
            note,
            work.from_hz,
            work.to_hz,
            work.cents,
            work.work.value,
            work.hardness,
        )

    holes = range(1, plan.wanted.tuning.holes + 1)
    return tuple((row(hole, Breath.BLOW), row(hole, Breath.DRAW)) for hole in holes)


Sheet = Literal["sheet", "targets", "cutting", "label", "card"]


def paper(shelf: Shelf, asked: PaperAsked, what: Sheet) -> bytes:
    """A PDF for the bench, or to go with the harp. Raises `ReedwrightError`."""
    if what == "targets":
        return _tuning_sheet(shelf, asked)
    plan = planned(shelf, asked)
    if plan.worklist is None:
        raise ReedwrightError(" ".join(plan.wrong.values()))
    conversions = plan.worklist.conversions
    day = asked.day.strip() or None
    if what == "sheet":
        return _bench_sheet(plan, asked, day)
    if what == "cutting":
        return _cutting_sheet(plan, asked)
    if what == "label":
        from reedwright.page.bench.label import labels_pdf

        return labels_pdf(
            [each.targets for each in conversions],
            count=asked.copies,
            name=asked.name,
            maker=asked.maker,
            date=day,
            paper=_paper(asked),
        )
    from reedwright.page.bench.card import harp_card_pdf

    return harp_card_pdf(
        conversions[0].targets,
        name=asked.name,
        owner=asked.owner,
        maker=asked.maker,
        date=day,
        count=asked.copies,
        paper=_paper(asked),
    )


def _paper(asked: PaperAsked) -> str:
    if asked.paper not in BENCH_PAPERS:
        raise ReedwrightError(f"Choose one of the papers {', '.join(BENCH_PAPERS)}.")
    return asked.paper


def _bench_sheet(plan: Planned, asked: PaperAsked, day: str | None) -> bytes:
    from reedwright.page.bench.sheet import bench_sheet_pdf, worklist_pdf

    assert plan.worklist is not None
    conversions = plan.worklist.conversions
    if len(conversions) > 1:
        return worklist_pdf(
            plan.worklist, valve_plans=plan.valves, name=asked.name, date=day, paper=_paper(asked)
        )
    before, after = _measured(plan.own, conversions[0].targets)
    return bench_sheet_pdf(
        conversions[0],
        measured_before=before,
        measured_after=after,
        valve_plan=plan.valves[0],
        name=asked.name or conversions[0].name,
        date=day,
        paper=_paper(asked),
        shopping=plan.worklist,
    )


def _measured(
    own: OwnHarp | None, targets: Targets
) -> tuple[Measurement | None, Measurement | None]:
    return (None, None) if own is None else before_and_after(own.history, targets)


def _tuning_sheet(shelf: Shelf, asked: PaperAsked) -> bytes:
    from reedwright.page.bench.sheet import bench_sheet_pdf

    found = tuned(shelf, asked)
    if found.targets is None:
        raise ReedwrightError(" ".join(found.wrong.values()))
    before, after = _measured(found.own, found.targets)
    return bench_sheet_pdf(
        found.targets,
        measured_before=before,
        measured_after=after,
        valve_plan=_valves(found.targets.harp),
        name=asked.name or (found.own.item.name if found.own else ""),
        date=asked.day.strip() or None,
        paper=_paper(asked),
    )


def _cutting_sheet(plan: Planned, asked: PaperAsked) -> bytes:
    from reedwright.page.cuttingsheet import cutting_sheet_pdf

    valves = next((each for each in plan.valves if each is not None), None)
    if valves is None:
        raise ReedwrightError("No reed of this harp is to be valved; say which under Valves.")
    return cutting_sheet_pdf(valves, asked.paper if asked.paper in CUTTING_PAPERS else "a4")
