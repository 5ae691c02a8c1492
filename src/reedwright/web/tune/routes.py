"""The tune page: editing, playing, choosing note by note; and the music stand.

Public: `router`.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from typing import Any

import anyio
import anyio.to_thread
from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, Response

from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import ChangedMeanwhile
from reedwright.web.desk import AtDesk, Desk
from reedwright.web.music.arranging import harps_to_choose_from
from reedwright.web.music.standing import Version, stand, version_of
from reedwright.web.music.stepping import CHANGED, keep_step, redo_step, undo_step
from reedwright.web.music.told import Speed, TimesView
from reedwright.web.numbers import ItemId
from reedwright.web.templating import for_script, page
from reedwright.web.tune import hearing, leaving
from reedwright.web.tune.choosing import chosen
from reedwright.web.tune.model import (
    Changed,
    ChoiceAsked,
    Copied,
    CopyAsked,
    NoteDetail,
    Remarks,
    StepAsked,
    TextAsked,
    View,
    WidthName,
)
from reedwright.web.tune.notes import note_detail
from reedwright.web.tune.saving import save_copy, save_text
from reedwright.web.tune.viewing import remarks_of, view_of

router = APIRouter(tags=["tune"])

_LOOK = 0.05  # seconds between looks whether the page still waits
_SOUNDS = 2  # made or waited for in threads of their own, so that none is kept from those who write
_NOBODY_THERE = 499  # nobody reads it
_Responses = dict[int | str, dict[str, Any]]
_CHANGES: _Responses = {409: {"model": Changed}}


@router.get("/tunes/{tune}", response_class=HTMLResponse)
def tune_page(request: Request, desk: AtDesk, tune: ItemId) -> HTMLResponse:
    return _page(request, desk, tune, "tune/page.html", "tune", "wide")


@router.get("/tunes/{tune}/stand", response_class=HTMLResponse)
def stand_page(
    request: Request, desk: AtDesk, tune: ItemId, width: WidthName = "stand"
) -> HTMLResponse:
    return _page(request, desk, tune, "tune/stand.html", "stand", width)


def _page(
    request: Request, desk: AtDesk, tune: int, template: str, part: str, width: WidthName
) -> HTMLResponse:
    with desk.shelf() as shelf:
        view = view_of(shelf, tune, width)
        item = shelf.item(tune)
        own_harps = harps_to_choose_from(shelf) is not None
    return page(
        request,
        template,
        title=view.title,
        tune_item=item,
        part=part,
        view=view.model_dump(),
        view_json=for_script(view.model_dump_json()),
        own_harps=own_harps,
        width=width,
    )


@router.get("/tunes/{tune}/view", response_model=View)
def look(desk: AtDesk, tune: ItemId, width: WidthName = "wide") -> Response:
    with desk.shelf() as shelf:
        return _view(shelf, tune, width)


@router.get("/tunes/{tune}/version")
def version(desk: AtDesk, tune: ItemId) -> Version:
    with desk.shelf() as shelf:
        return version_of(shelf, tune)


@router.get("/tunes/{tune}/remarks")
def remarks(desk: AtDesk, tune: ItemId) -> Remarks:
    with desk.shelf() as shelf:
        standing = stand(shelf, tune)
    return remarks_of(standing)


@router.post("/tunes/{tune}/text", response_model=View, responses=_CHANGES)
def text(desk: AtDesk, asked: TextAsked, tune: ItemId) -> Response:
    with desk.shelf() as shelf:
        try:
            said = save_text(shelf, tune, asked.text, asked.made_from.tune)
        except ChangedMeanwhile as error:
            return _changed(shelf, tune, asked.width, error)
        return _view(shelf, tune, asked.width, said)


@router.post("/tunes/{tune}/copy")
def copy(desk: AtDesk, asked: CopyAsked, tune: ItemId) -> Copied:
    with desk.shelf() as shelf:
        return Copied(tune=save_copy(shelf, tune, asked.text))


@router.get("/tunes/{tune}/notes/{note}")
def note(desk: AtDesk, note: str, tune: ItemId) -> NoteDetail:
    with desk.shelf() as shelf:
        standing = stand(shelf, tune)
    return note_detail(standing, note)


@router.post("/tunes/{tune}/choices", response_model=View, responses=_CHANGES)
def choose(desk: AtDesk, asked: ChoiceAsked, tune: ItemId) -> Response:
    with desk.shelf() as shelf:
        try:
            if version_of(shelf, tune) != asked.made_from:
                raise ChangedMeanwhile(CHANGED)
            standing = stand(shelf, tune)
            step = chosen(standing, asked)
            keep_step(shelf, standing.looked, step.choices, step.done)
        except ChangedMeanwhile as error:
            return _changed(shelf, tune, asked.width, error)
        return _view(shelf, tune, asked.width, step.said)


@router.post("/tunes/{tune}/undo", response_model=View, responses=_CHANGES)
def undo(desk: AtDesk, asked: StepAsked, tune: ItemId) -> Response:
    return _moved(desk, tune, asked, undo_step, "Undone")


@router.post("/tunes/{tune}/redo", response_model=View, responses=_CHANGES)
def redo(desk: AtDesk, asked: StepAsked, tune: ItemId) -> Response:
    return _moved(desk, tune, asked, redo_step, "Done again")


def _moved(
    desk: Desk, tune: int, asked: StepAsked, step: Callable[[Shelf, int, Version], str], word: str
) -> Response:
    with desk.shelf() as shelf:
        try:
            said = step(shelf, tune, asked.made_from)
        except ChangedMeanwhile as error:
            return _changed(shelf, tune, asked.width, error)
        return _view(shelf, tune, asked.width, (f"{word}: {said}.",))


def _view(shelf: Shelf, tune: int, width: WidthName, said: tuple[str, ...] = ()) -> Response:
    # Written here once: FastAPI would check it a second time, for some milliseconds.
    view = view_of(shelf, tune, width, said)
    return Response(view.model_dump_json(), media_type="application/json")


def _changed(shelf: Shelf, tune: int, width: WidthName, error: ChangedMeanwhile) -> Response:
    found = Changed(kind="changed-meanwhile", message=str(error), view=view_of(shelf, tune, width))
    return Response(found.model_dump_json(), 409, media_type="application/json")


@router.get(
    "/tunes/{tune}/sound",
    response_class=Response,
    responses={200: {"content": {"audio/wav": {}}}},
)
async def sound(
    request: Request,
    desk: AtDesk,
    tune: ItemId,
    speed: Speed = 1.0,
    count_in: bool = False,
    clicks: bool = False,
    at: str = Query("", max_length=40),
) -> Response:
    """Waits in a thread; given up when the page that asked is gone or asks for another."""
    gone = threading.Event()

    def make() -> Response:
        with desk.shelf() as shelf:
            standing = stand(shelf, tune)
        wav = hearing.wav_of(standing, speed, count_in, clicks, lambda: not gone.is_set())
        return Response(wav, media_type="audio/wav", headers=hearing.kept_for(standing, at))

    async def watch() -> None:
        while not await request.is_disconnected():
            await asyncio.sleep(_LOOK)
        gone.set()

    watching = asyncio.create_task(watch())
    try:
        return await anyio.to_thread.run_sync(make, limiter=_sounds(request))
    except hearing.NotWanted:
        return Response(status_code=_NOBODY_THERE)
    finally:
        watching.cancel()


def _sounds(request: Request) -> anyio.CapacityLimiter:
    """One for each app, as each has a loop of its own."""
    state = request.app.state
    if not hasattr(state, "sounds"):
        state.sounds = anyio.CapacityLimiter(_SOUNDS)
    limiter: anyio.CapacityLimiter = state.sounds
    return limiter


@router.get("/tunes/{tune}/times")
def times(
    desk: AtDesk,
    tune: ItemId,
    speed: Speed = 1.0,
    count_in: bool = False,
    clicks: bool = False,
    at: str = Query("", max_length=40),
) -> TimesView:
    with desk.shelf() as shelf:
        standing = stand(shelf, tune)
    return hearing.times_of(standing, speed, count_in, clicks)


@router.get(
    "/tunes/{tune}/page.pdf",
    response_class=Response,
    responses={200: {"content": {"application/pdf": {}}}},
)
def pdf(desk: AtDesk, tune: ItemId) -> Response:
    with desk.shelf() as shelf:
        standing = stand(shelf, tune)
    return leaving.page_pdf(standing)


@router.get(
    "/tunes/{tune}/tune.abc",
    response_class=Response,
    responses={200: {"content": {"text/vnd.abc": {}}}},
)
def abc(desk: AtDesk, tune: ItemId) -> Response:
    with desk.shelf() as shelf:
        standing = stand(shelf, tune)
    return leaving.tune_abc(standing)
