"""Takes: a recording heard against its tune; report, cuts, practice tracks.

Public: `router`.
"""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Form, Request, UploadFile
from fastapi.responses import FileResponse, HTMLResponse, RedirectResponse, Response

from reedwright.folders.names import file_name
from reedwright.pack.cautions import CAUTIONS, TAKE_RIGHTS
from reedwright.shelf.belongings.files import keep_take
from reedwright.web.desk import AtDesk, Desk
from reedwright.web.music.opening import opened
from reedwright.web.numbers import ItemId
from reedwright.web.sending import sent
from reedwright.web.sound_sent import called, laid_down
from reedwright.web.takes.answers import Begun
from reedwright.web.takes.cutting import CutAsked, CutTask, cut
from reedwright.web.takes.hearing import HearTask, found, hear, key_of, report_of
from reedwright.web.takes.kept import take_kept, takes_kept
from reedwright.web.takes.plain import plain_sound
from reedwright.web.takes.unknownroutes import router as unknown
from reedwright.web.templating import page

router = APIRouter(tags=["takes"])
router.include_router(unknown)

HEARING, CUTTING = "hear", "cut"
_SOUNDS = {
    "wav": "audio/wav",
    "mp3": "audio/mpeg",
    "m4a": "audio/mp4",
    "mp4": "audio/mp4",
    "ogg": "audio/ogg",
    "opus": "audio/ogg",
    "webm": "audio/webm",
    "flac": "audio/flac",
}
_PARTLY: dict[int | str, dict[str, Any]] = {
    206: {"description": "The part that was asked for."},
    400: {"description": "What part is wanted can't be read."},
    416: {"description": "There is no such part."},
}


@router.get("/tunes/{tune}/takes", response_class=HTMLResponse)
def takes_page(tune: ItemId, request: Request, desk: AtDesk) -> HTMLResponse:
    with desk.shelf() as shelf:
        open_tune = opened(shelf, tune)
        takes = takes_kept(shelf, tune)
    return page(
        request,
        "takes/takes.html",
        title=f"Takes of {open_tune.tune.title}",
        tune_item=open_tune.item,
        part="takes",
        takes=takes,
        cautions=(CAUTIONS[1], TAKE_RIGHTS),
        most=desk.settings.most_upload,
    )


@router.post("/tunes/{tune}/takes", response_model=Begun)
def bring(
    tune: ItemId,
    sound: UploadFile,
    desk: AtDesk,
    played_by: Annotated[str, Form(max_length=100)] = "",
) -> Begun:
    """A recording: kept with its tune on the shelf at once, then heard by a job."""
    with desk.shelf() as shelf:
        opened(shelf, tune)
        with laid_down(sound.file, sound.filename or "recording") as path:
            item = keep_take(shelf, tune, path, " ".join(played_by.split()))
    return _hear(desk, tune, item.id)


@router.post("/tunes/{tune}/takes/{take}/hear", response_model=Begun)
def hear_again(tune: ItemId, take: ItemId, desk: AtDesk) -> Begun:
    """Hear it against the tune as it is now."""
    with desk.shelf() as shelf:
        take_kept(shelf, tune, take)
    return _hear(desk, tune, take)


def _hear(desk: Desk, tune: int, take: int) -> Begun:
    with desk.shelf() as shelf:
        title = take_kept(shelf, tune, take).tune.name
    address = f"/tunes/{tune}/takes/{take}"
    for job in desk.jobs.all(HEARING, address):
        if not job.over:
            return Begun(job=job.name, go=address)
    task = HearTask(desk.settings.shelf, tune, take)
    job = desk.jobs.begin(HEARING, f"Hearing a take of {title}", address, hear, task)
    return Begun(job=job.name, go=address)


@router.get("/tunes/{tune}/takes/{take}", response_class=HTMLResponse)
def take_page(tune: ItemId, take: ItemId, request: Request, desk: AtDesk) -> HTMLResponse:
    with desk.shelf() as shelf:
        open_tune = opened(shelf, tune)
        kept = take_kept(shelf, tune, take)
        heard = found(shelf, key_of(shelf, open_tune, kept.item.state.attachment))
    address = f"/tunes/{tune}/takes/{take}"
    hearing = next(iter(desk.jobs.all(HEARING, address)), None)
    return page(
        request,
        "takes/take.html",
        title=f"A take of {open_tune.tune.title}",
        tune_item=open_tune.item,
        part="takes",
        take=kept,
        heard=heard,
        hearing=hearing,
        cutting=list(desk.jobs.all(CUTTING, address))[:3],
    )


@router.get("/tunes/{tune}/takes/{take}/heard")
def heard_json(tune: ItemId, take: ItemId, desk: AtDesk) -> dict[str, Any]:
    """What was heard, for drawing; empty where it was not heard yet as the tune is now."""
    with desk.shelf() as shelf:
        kept = take_kept(shelf, tune, take)
        return found(shelf, key_of(shelf, opened(shelf, tune), kept.item.state.attachment)) or {}


@router.get("/tunes/{tune}/takes/{take}/sound", response_class=FileResponse, responses=_PARTLY)
def sound(tune: ItemId, take: ItemId, desk: AtDesk) -> FileResponse:
    """The recording as it was sent; parts of it where the browser asks for them."""
    with desk.shelf() as shelf:
        kept = take_kept(shelf, tune, take)
    ending = called(kept.file).rpartition(".")[2].lower()
    kind = _SOUNDS.get(ending, "application/octet-stream")
    return FileResponse(
        kept.path,
        media_type=kind,
        filename=called(kept.file),
        content_disposition_type="inline" if kind.startswith("audio/") else "attachment",
        headers={"cache-control": "private, max-age=3600"},
    )


@router.get("/tunes/{tune}/takes/{take}/sound.wav", response_class=FileResponse, responses=_PARTLY)
def sound_as_wav(tune: ItemId, take: ItemId, desk: AtDesk) -> FileResponse:
    """The same in a form that every browser plays, for those that can't play what was sent."""
    with desk.shelf() as shelf:
        kept = take_kept(shelf, tune, take)
        path = plain_sound(shelf, kept)
    return FileResponse(
        path, media_type="audio/wav", headers={"cache-control": "private, max-age=3600"}
    )


@router.get("/tunes/{tune}/takes/{take}/report.pdf", response_class=Response)
def report_pdf(tune: ItemId, take: ItemId, desk: AtDesk) -> Response:
    """The report on paper."""
    return _report(desk, tune, take, "pdf")


@router.get("/tunes/{tune}/takes/{take}/report.json", response_class=Response)
def report_data(tune: ItemId, take: ItemId, desk: AtDesk) -> Response:
    """The report and the time of every note, for programs: as `reedwright take` writes it."""
    return _report(desk, tune, take, "json")


def _report(desk: Desk, tune: int, take: int, ending: str) -> Response:
    with desk.shelf() as shelf:
        kept = take_kept(shelf, tune, take)
        key = key_of(shelf, opened(shelf, tune), kept.item.state.attachment)
        content = report_of(shelf, key, "pdf" if ending == "pdf" else "report.json")
    if content is None:
        return RedirectResponse(f"/tunes/{tune}/takes/{take}", 303)
    return sent(content, f"{file_name(kept.tune.name, 'take')}-report.{ending}", look=True)


@router.post("/tunes/{tune}/takes/{take}/cut", response_model=Begun)
def cut_take(tune: ItemId, take: ItemId, asked: CutAsked, desk: AtDesk) -> Begun:
    """Begin the job that makes practice tracks."""
    asked.settings()  # what can't be done is told now
    with desk.shelf() as shelf:
        title = take_kept(shelf, tune, take).tune.name
    address = f"/tunes/{tune}/takes/{take}"
    task = CutTask(desk.settings.shelf, desk.settings.made, tune, take, asked)
    job = desk.jobs.begin(CUTTING, f"Practice tracks of {title}", address, cut, task)
    return Begun(job=job.name, go=address)


@router.post("/tunes/{tune}/takes/{take}/remove")
def remove(tune: ItemId, take: ItemId, desk: AtDesk) -> dict[str, str]:
    """Take it off the shelf; it is kept, and can be put back."""
    with desk.shelf() as shelf:
        take_kept(shelf, tune, take)
        shelf.remove(take)
    return {"go": f"/tunes/{tune}/takes"}


@router.post("/tunes/{tune}/takes/{take}/put-back")
def put_back(tune: ItemId, take: ItemId, desk: AtDesk) -> dict[str, str]:
    with desk.shelf() as shelf:
        take_kept(shelf, tune, take)
        shelf.put_back(take)
    return {"go": f"/tunes/{tune}/takes/{take}"}
