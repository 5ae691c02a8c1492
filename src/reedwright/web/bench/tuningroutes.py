"""Pages of the search for a better tuning, and of valves for a harp and a tune.

Public: `router`.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from pydantic import BaseModel, Field

from reedwright.errors import ReedwrightError
from reedwright.harp.cautions import SHORT_CAUTION
from reedwright.harp.making import make_harp
from reedwright.page.content import signs_in_print
from reedwright.player.loading import all_profiles
from reedwright.shelf.belongings.lists import lists_on
from reedwright.shelf.finding.model import Hit, Wanted
from reedwright.shelf.finding.searching import search as found_by_words
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Kind
from reedwright.tab.expression import ValveComparison, compare_valves, valves_report
from reedwright.web.bench.answers import POSTED
from reedwright.web.bench.asking import Line, Wrong, choices
from reedwright.web.bench.charting import chart
from reedwright.web.bench.tunings import SearchAsked, keep_tuning, search, search_task
from reedwright.web.desk import AtDesk
from reedwright.web.harpform import HarpAsked, Word, harp_asked
from reedwright.web.jobs.model import NoSuchJob
from reedwright.web.music.arranging import settled
from reedwright.web.music.opening import opened
from reedwright.web.numbers import NumberOrNone
from reedwright.web.templating import page
from reedwright.workshop.valving.effects import effect_words, valve_effects
from reedwright.workshop.valving.planning import plan_valves
from reedwright.workshop.valving.text import pitch_words, summary_words, valve_plan_report

router = APIRouter(prefix="/bench", tags=["bench"])

SEARCHING = "tuning"  # the kind of these jobs
MOST_HITS = 12


JobName = Annotated[str, Query(max_length=40)]


@router.get("/tuning", response_class=HTMLResponse)
def tuning(request: Request, desk: AtDesk, job: JobName = "") -> HTMLResponse:
    """The form, and what a search has found: the one of that name, or the last."""
    with desk.shelf() as shelf:
        return _tuning(request, desk, shelf, SearchAsked(), Wrong(), job=job)


def _tuning(
    request: Request,
    desk: AtDesk,
    shelf: Shelf,
    asked: SearchAsked,
    wrong: Wrong,
    status: int = 200,
    job: str = "",
    trouble: str = "",
) -> HTMLResponse:
    done = desk.jobs.last(SEARCHING, job, done=True)
    return page(
        request,
        "bench/tuning.html",
        status,
        title="Find a tuning",
        here="bench",
        asked=asked,
        wrong=wrong,
        lists=lists_on(shelf),
        many=shelf.counts().get(Kind.TUNE, 0),
        players=[(name, name) for name in all_profiles()],
        choices=choices(),
        jobs=desk.jobs.all(SEARCHING),
        done=done,
        found=done.outcome.facts if done else {},
        trouble=trouble,
        caution=SHORT_CAUTION,
    )


@router.post("/tuning", **POSTED)
def search_begun(request: Request, desk: AtDesk, asked: Annotated[SearchAsked, Form()]) -> Response:
    with desk.shelf() as shelf:
        task, wrong = search_task(shelf, asked)
        if task is not None:
            try:
                many = f"{len(task.tunes)} tunes" if len(task.tunes) != 1 else "a tune"
                title = f"Searching a tuning for {many}"
                desk.jobs.begin(SEARCHING, title, "/bench/tuning", search, task)
            except ReedwrightError as error:
                wrong["search"] = str(error)
        if wrong:
            return _tuning(request, desk, shelf, asked, wrong, 422)
    return RedirectResponse("/bench/tuning", 303)


class KeptTuning(BaseModel):
    """Which row of which table, and what the tuning is called from now on."""

    table: Annotated[int, Field(ge=0, le=10)]
    row: Annotated[int, Field(ge=0, le=100)]
    name: Word


@router.post("/tuning/{job}/keep", **POSTED)
def keep(
    request: Request, job: str, desk: AtDesk, asked: Annotated[KeptTuning, Form()]
) -> Response:
    """Keep a tuning among one's own, and plan a harp in it."""
    done = desk.jobs.last(SEARCHING, job, done=True)
    if done is None:
        raise NoSuchJob("There is no search that is done; search again.")
    facts: Any = done.outcome.facts
    try:
        toml = facts["tables"][asked.table]["rows"][asked.row]["toml"]
        name = keep_tuning(toml, asked.name)
    except (IndexError, ReedwrightError) as error:
        why = "Choose a row of the table." if isinstance(error, IndexError) else str(error)
        with desk.shelf() as shelf:
            return _tuning(request, desk, shelf, SearchAsked(), Wrong(), 422, job, why)
    return RedirectResponse(f"/bench/plan?{urlencode({'tuning': name, 'ask': 1})}", 303)


class ValvesAsked(HarpAsked):
    """`tune`: a tune's number on the shelf, to hear what valves bring to it; 0 for none. `find`:
    words that tunes are looked for by."""

    valves: Word = "half"
    tune: NumberOrNone = 0
    find: Line = ""


@router.get("/valves", response_class=HTMLResponse)
def valves(request: Request, desk: AtDesk, asked: Annotated[ValvesAsked, Query()]) -> HTMLResponse:
    wrong = Wrong()
    harp = harp_asked(asked.model_copy(update={"valves": asked.valves.strip() or "half"}), wrong)
    plan = None
    if harp is not None:
        try:
            plan = plan_valves(harp)
        except ReedwrightError as error:
            wrong["valves"] = str(error)
    with desk.shelf() as shelf:
        hits = _hits(shelf, asked.find)
        compared = _compared(shelf, asked, wrong) if plan is not None and asked.tune else None
    return page(
        request,
        "bench/valves.html",
        422 if wrong else 200,
        title="Valves",
        here="bench",
        asked=asked,
        wrong=wrong,
        choices=choices(),
        hits=hits,
        plan=plan,
        report=valve_plan_report(plan) if plan else None,
        words=(summary_words(plan), pitch_words(plan)) if plan else (),
        effects=[effect_words(each, plan.harp) for each in valve_effects(plan)] if plan else (),
        chart=chart(plan.harp) if plan else None,
        compared=valves_report(compared) if compared else None,
        printed=signs_in_print,
        query=urlencode({**asked.model_dump(), "ask": 1}),
    )


def _hits(shelf: Shelf, words: str) -> tuple[Hit, ...]:
    if not words.strip():
        return ()
    return found_by_words(shelf, Wanted(words=words, limit=MOST_HITS)).hits


def _compared(shelf: Shelf, asked: ValvesAsked, wrong: Wrong) -> ValveComparison | None:
    """The tune on this harp without valves and with them; moved as lies best on it."""
    tune = opened(shelf, asked.tune)
    harp = harp_asked(asked, Wrong())
    if harp is None:
        return None
    bare = make_harp(harp.key, harp.tuning, harp.register, "none")
    try:
        free = replace(tune.choices, harp="", octaves=None)
        session = settled(tune.tune, free, (bare,))
        return compare_valves(
            tune.tune,
            harp,
            session.profile,
            session.voice,
            session.choices.octaves or 0,
            session.choices.semitones or 0,
        )
    except ReedwrightError as error:
        wrong["tune"] = str(error)
        return None
