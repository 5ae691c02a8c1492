"""All takes; and recordings of tunes that are not known yet: written down, or looked for.

Public: `router`.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Form, Query, Request, UploadFile
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, Field

from reedwright.pack.cautions import TAKE_RIGHTS
from reedwright.shelf.facts.tunes import add_tune
from reedwright.tab.choices.model import TuneChoices
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.web.desk import AtDesk, Desk
from reedwright.web.jobs.model import Job, JobState, NoSuchJob
from reedwright.web.music.arranging import arranged, harps_to_choose_from
from reedwright.web.music.drawing import WIDE, sheet
from reedwright.web.numbers import ItemId
from reedwright.web.sound_sent import called, for_a_job
from reedwright.web.takes.answers import Begun
from reedwright.web.takes.kept import take_kept, takes_kept
from reedwright.web.takes.unknown import Known, UnknownTask, look_for, note_down
from reedwright.web.templating import fragment, page

router = APIRouter()

NOTING, LOOKING = "note-down", "look-for"
_LOOKING_FOR = "Looking for the tune of"
JobName = Annotated[str, Query(max_length=40)]


@router.get("/takes", response_class=HTMLResponse)
def all_takes(request: Request, desk: AtDesk) -> HTMLResponse:
    with desk.shelf() as shelf:
        takes = takes_kept(shelf)
    jobs = list(desk.jobs.all(page="/takes"))[:5]
    return page(
        request,
        "takes/all.html",
        title="Takes",
        here="takes",
        takes=takes,
        jobs=jobs,
        rights=TAKE_RIGHTS,
        most=desk.settings.most_upload,
    )


@router.post("/takes/unknown", response_model=Begun)
def unknown(
    sound: UploadFile,
    desk: AtDesk,
    what: Annotated[Literal["note-down", "look-for"], Form()] = "note-down",
    title: Annotated[str, Form(max_length=100)] = "",
    type: Annotated[str, Form(max_length=100)] = "",
    meter: Annotated[str, Form(max_length=100)] = "",
    key: Annotated[str, Form(max_length=100)] = "",
) -> Begun:
    """A recording of a tune that is not known: it is written down, or looked for, by a job."""
    known = Known(title=title, type=type, meter=meter, key=key)
    known.wishes()  # what can't be read is told now
    name = called(sound.filename or "recording")
    return _begin(desk, what, for_a_job(sound.file, name), name, known)


@router.post("/tunes/{tune}/takes/{take}/which", response_model=Begun)
def which_is_it(tune: ItemId, take: ItemId, desk: AtDesk) -> Begun:
    """Look for a kept take among the shelf's tunes, as it does not fit its own."""
    with desk.shelf() as shelf:
        kept = take_kept(shelf, tune, take)
    name = called(kept.file)
    return _begin(desk, LOOKING, for_a_job(kept.path, name), name, Known())


def _begin(desk: Desk, what: str, sound: Path, name: str, known: Known) -> Begun:
    """`sound`: a copy for this job alone."""
    words, work = ("Writing down", note_down) if what == NOTING else (_LOOKING_FOR, look_for)
    task = UnknownTask(desk.settings.shelf, sound, name, known)
    job = desk.jobs.begin(what, f"{words} {name}", "/takes", work, task, [sound.parent])
    return Begun(job=job.name, go=f"/takes/{'noted' if what == NOTING else 'which'}?job={job.name}")


@router.get("/takes/noted", response_class=HTMLResponse)
def noted(request: Request, desk: AtDesk, job: JobName = "") -> HTMLResponse:
    """A first notation, with its doubts."""
    return page(
        request, "takes/noted.html", title="A first notation", here="takes",
        job=desk.jobs.last(NOTING, job),
    )  # fmt: skip


@router.get("/takes/which", response_class=HTMLResponse)
def which(request: Request, desk: AtDesk, job: JobName = "") -> HTMLResponse:
    """The shelf's tunes that a recording may be of."""
    return page(
        request, "takes/which.html", title="Which tune is it", here="takes",
        job=desk.jobs.last(LOOKING, job),
    )  # fmt: skip


@router.get("/takes/noted/music", response_class=HTMLResponse)
def noted_music(desk: AtDesk, job: JobName = "") -> HTMLResponse:
    """Its notes with tab, on the easiest harp of those on the shelf, or of all."""
    found = desk.jobs.last(NOTING, job)
    if found is None or found.standing is not JobState.DONE:
        return HTMLResponse(fragment("takes/music.html", systems=(), harp=""))
    tune = _written_down(found)
    with desk.shelf() as shelf:
        harps = harps_to_choose_from(shelf)
    arrangement = arranged(tune, TuneChoices(tune.title, tune.number), harps)
    drawn = sheet(arrangement, WIDE)
    return HTMLResponse(
        fragment("takes/music.html", systems=drawn.systems, harp=arrangement.harp.name)
    )


def _written_down(job: Job) -> Tune:
    (tune,) = read_abc(str(job.outcome.facts["abc"]))
    assert isinstance(tune, Tune)  # what is written down reads back (takes.transcribing)
    return tune


class KeepAsked(BaseModel):
    job: Annotated[str, Field(max_length=40)]


@router.post("/takes/noted/keep")
def keep_noted(asked: KeepAsked, desk: AtDesk) -> dict[str, Any]:
    """Put the notation on the shelf as a tune of its own."""
    job = desk.jobs.job(asked.job)
    if job.kind != NOTING or job.standing is not JobState.DONE:
        raise NoSuchJob("That notation is not there.")
    tune = _written_down(job)
    with desk.shelf() as shelf:
        item = add_tune(shelf, tune, said="written down from a recording")
    return {"go": f"/tunes/{item.id}"}
