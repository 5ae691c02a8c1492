"""Pages of plans, targets and valves, and the paper for them.

Public: `router`.
"""

from __future__ import annotations

from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, Response

from reedwright.harp.cautions import SHORT_CAUTION
from reedwright.page.content import signs_in_print
from reedwright.web.bench.answers import PAPER
from reedwright.web.bench.asking import choices
from reedwright.web.bench.charting import chart
from reedwright.web.bench.course import signed
from reedwright.web.bench.planning import (
    PAPERS,
    PaperAsked,
    PlanAsked,
    Sheet,
    TargetsAsked,
    hole_rows,
    paper,
    planned,
    tuned,
)
from reedwright.web.desk import AtDesk
from reedwright.web.harpform import HarpAsked
from reedwright.web.ownharps import own_harps
from reedwright.web.sending import sent
from reedwright.web.templating import page
from reedwright.workshop.conversion.changewords import change_lines
from reedwright.workshop.conversion.handwork import caution_words
from reedwright.workshop.conversion.report import conversion_report, plan_report, stocks_report
from reedwright.workshop.targets.report import beats_report, targets_report
from reedwright.workshop.valving.text import pitch_words, summary_words

router = APIRouter(prefix="/bench", tags=["bench"])

MOST_RANKED = 5


@router.get("/plan", response_class=HTMLResponse)
def plan(request: Request, desk: AtDesk, asked: Annotated[PlanAsked, Query()]) -> HTMLResponse:
    with desk.shelf() as shelf:
        harps = own_harps(shelf)
        found = planned(shelf, asked) if asked.ask else None
    made = found.worklist if found else None
    conversions = made.conversions if made else ()
    report = plan_report(made) if made else None
    return page(
        request,
        "bench/plan.html",
        422 if found and found.wrong else 200,
        title="Plan a conversion",
        here="bench",
        asked=asked,
        from_asked=HarpAsked(
            key=asked.from_key,
            in_register=asked.from_in_register,
            tuning=asked.from_tuning,
            valves=asked.from_valves,
        ),
        wrong=found.wrong if found else {},
        choices=choices(),
        harps=harps,
        plans=[
            {
                "made": each,
                "report": conversion_report(each),
                "holes": hole_rows(each),
                "changes": change_lines(each.stock, each.wanted),
                "chart": chart(each.wanted, f"h{number}-"),
                "valves": valves,
                "valve_words": (summary_words(valves), pitch_words(valves)) if valves else (),
            }
            for number, (each, valves) in enumerate(
                zip(conversions, found.valves if found else (), strict=True)
            )
        ]
        if report
        else [],
        report=report,
        ranked=stocks_report(found.ranked)[:MOST_RANKED] if found else [],
        told=found.told if found else (),
        query=urlencode({**asked.model_dump(), "ask": "1"}),
        papers=PAPERS,
        caution=caution_words(conversions) if conversions else SHORT_CAUTION,
        printed=signs_in_print,
        signed=signed,
    )


@router.get("/targets", response_class=HTMLResponse)
def targets(
    request: Request, desk: AtDesk, asked: Annotated[TargetsAsked, Query()]
) -> HTMLResponse:
    with desk.shelf() as shelf:
        harps = own_harps(shelf)
        found = tuned(shelf, asked)
    made = found.targets
    return page(
        request,
        "bench/targets.html",
        422 if found.wrong else 200,
        title="What each reed is to sound",
        here="bench",
        asked=asked,
        wrong=found.wrong,
        own=found.own,
        choices=choices(),
        harps=harps,
        report=targets_report(made) if made else None,
        beats=beats_report(made) if made else None,
        harp=made.harp if made else None,
        query=urlencode({**asked.model_dump(), "ask": "1"}),
        printed=signs_in_print,
        signed=signed,
    )


@router.get("/paper/{what}.pdf", response_class=Response, responses=PAPER)
def sheet(what: Sheet, desk: AtDesk, asked: Annotated[PaperAsked, Query()]) -> Response:
    """The bench sheet, cutting sheet, labels or cards of a plan; the sheet of targets alone."""
    with desk.shelf() as shelf:
        pdf = paper(shelf, asked, what)
    return sent(pdf, f"reedwright-{what}.pdf", look=True)
