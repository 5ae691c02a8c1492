"""The page of the reed meter, and recordings of reeds measured as jobs.

Public: `router`.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal
from urllib.parse import quote

from fastapi import APIRouter, Form, Query, Request, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from pydantic import BaseModel

from reedwright.errors import ReedwrightError
from reedwright.harp.cautions import SHORT_CAUTION
from reedwright.harp.making import parse_harp
from reedwright.page.content import signs_in_print
from reedwright.web.bench.answers import POSTED
from reedwright.web.bench.asking import choices
from reedwright.web.bench.course import signed
from reedwright.web.bench.dial import dial
from reedwright.web.bench.meter import Aimed, aim_of
from reedwright.web.bench.recordings import RecordingTask, keep_entry, measure
from reedwright.web.desk import AtDesk
from reedwright.web.harpform import Word
from reedwright.web.jobs.model import Job, NoSuchJob
from reedwright.web.numbers import ItemNumber
from reedwright.web.ownharps import OwnHarp, own_harp, own_harps, same_reeds
from reedwright.web.sound_sent import called, for_a_job
from reedwright.web.templating import page
from reedwright.workshop.measuring.orders import asked_orders

router = APIRouter(prefix="/bench", tags=["bench"])

MEASURING = "reeds"  # the kind of these jobs


class Recording(Aimed):
    """What a recording is measured against. `order`: in which order the reeds were played. `when`:
    before work, after it, or as a check."""

    order: Word = ""
    when: Literal["before", "after", "check"] = "check"


@router.get("/listen", response_class=HTMLResponse)
def listen(request: Request, desk: AtDesk, asked: Annotated[Aimed, Query()]) -> HTMLResponse:
    with desk.shelf() as shelf:
        harps = own_harps(shelf)
        aim, wrong = aim_of(shelf, asked)
    return page(
        request,
        "bench/listen.html",
        title="Listen to reeds",
        here="bench",
        asked=asked,
        wrong=wrong,
        harps=harps,
        holes=aim.targets.harp.tuning.holes if aim else 10,
        dial=dial(),
        choices=choices(),
        jobs=desk.jobs.all(MEASURING, "/bench/listen"),
        caution=SHORT_CAUTION,
    )


class Begun(BaseModel):
    """The job that was begun."""

    job: str


@router.post("/recordings")
def recording(desk: AtDesk, sound: UploadFile, asked: Annotated[Recording, Form()]) -> Begun:
    """Measure the reeds of a recording. Raises what is wrong with the harp, wishes or order."""
    with desk.shelf() as shelf:
        aim, wrong = aim_of(shelf, asked)
    if aim is None:
        raise ReedwrightError(" ".join(wrong.values()))
    if asked.order.strip():
        asked_orders(asked.order, aim.targets.harp)
    name = called(sound.filename or "the recording")
    path = for_a_job(sound.file, name)
    task = RecordingTask(
        path,
        name,
        aim.targets,
        aim.words,
        asked.order.strip(),
        aim.at_bench,
        asked.when,
        asked.mine,
        aim.before or {},
    )
    title = f"Measuring the reeds of {name}"
    job = desk.jobs.begin(MEASURING, title, "/bench/listen", measure, task, [path.parent])
    return Begun(job=job.name)


@router.get("/measured", response_class=HTMLResponse)
def measured(
    request: Request, desk: AtDesk, job: Annotated[str, Query(max_length=40)] = ""
) -> HTMLResponse:
    """What a recording's reeds sound: of the job of that name, or the last."""
    return _measured(request, desk, desk.jobs.last(MEASURING, job, done=True), "")


def _measured(
    request: Request, desk: AtDesk, done: Job | None, trouble: str, status: int = 200
) -> HTMLResponse:
    facts: Any = done.outcome.facts if done else {}
    fitting: list[OwnHarp] = []
    if done is not None:
        heard = parse_harp(facts["harp"])
        with desk.shelf() as shelf:
            fitting = [own for own in own_harps(shelf) if own.harp and same_reeds(own.harp, heard)]
    return page(
        request,
        "bench/measured.html",
        status,
        title="What the reeds sound",
        here="bench",
        job=done,
        report=facts.get("measured"),
        other=facts.get("other"),
        item=facts.get("item"),
        harps=fitting,
        trouble=trouble,
        signed=signed,
        printed=signs_in_print,
        caution=SHORT_CAUTION,
    )


class Kept(BaseModel):
    item: ItemNumber


@router.post("/recordings/{job}/keep", **POSTED)
def keep(request: Request, job: str, desk: AtDesk, asked: Annotated[Kept, Form()]) -> Response:
    """Keep what was measured with a harp of one's own."""
    done = desk.jobs.last(MEASURING, job, done=True)
    if done is None:
        raise NoSuchJob("There is no measurement that is done; measure the recording again.")
    facts: Any = done.outcome.facts
    try:
        with desk.shelf() as shelf, shelf.change():
            own = own_harp(shelf, asked.item)
            if own.harp is None or not same_reeds(own.harp, parse_harp(facts["harp"])):
                raise ReedwrightError(f"{own.item.name} has other reeds than those measured.")
            many = len(facts["measured"]["reeds"])
            keep_entry(shelf, asked.item, facts["entry"], f"measured {many} reeds")
    except ReedwrightError as error:
        return _measured(request, desk, done, str(error), 422)
    return RedirectResponse(f"/bench/harps/{quote(str(asked.item))}", 303)
