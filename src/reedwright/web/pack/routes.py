"""The pack: settings with a live preview of its page, and making it.

Public: `router`.
"""

from __future__ import annotations

import base64
from typing import Annotated, Any

from fastapi import APIRouter, Header, Query, Request
from fastapi.responses import FileResponse, HTMLResponse, Response
from pydantic import BaseModel

from reedwright.pack.cautions import CAUTIONS, TAKE_RIGHTS, rights_statement
from reedwright.page.lesson import lesson_pdf
from reedwright.page.preview import png_size
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Item, Kind, Role
from reedwright.tune.rights import rights_line
from reedwright.tune.tempo import quarters_per_minute
from reedwright.web.desk import AtDesk
from reedwright.web.jobs.told import JobReport, report
from reedwright.web.music.opening import opened
from reedwright.web.numbers import ItemId
from reedwright.web.pack.asked import PackAsked, PageAsked, PreviewAsked, wanted_arrangement
from reedwright.web.pack.kept import file_of, kept_pack, name_for, packs_of
from reedwright.web.pack.making import PackTask, make
from reedwright.web.pack.previewing import drawn
from reedwright.web.sending import sent
from reedwright.web.templating import fragment, page

router = APIRouter(tags=["pack"])

KIND = "pack"
PARTLY: dict[int | str, dict[str, Any]] = {
    206: {"description": "The part that was asked for."},
    416: {"description": "There is no such part."},
}


class Preview(BaseModel):
    """`picture`: a PNG as a data address. `rights`: what is said of them in the pack. `notices`:
    what to know before making it."""

    picture: str
    width: int
    height: int
    page: int
    pages: int
    words: str
    harp: str
    tempo: float
    notices: list[str]


@router.get("/tunes/{tune}/pack", response_class=HTMLResponse)
def pack_page(tune: ItemId, request: Request, desk: AtDesk) -> HTMLResponse:
    with desk.shelf() as shelf:
        found = opened(shelf, tune)
        takes = _takes(shelf, tune)
        kept = packs_of(shelf, tune)
    address = f"/tunes/{tune}/pack"
    return page(
        request,
        "pack/pack.html",
        title=f"Pack of {found.tune.title}",
        tune_item=found.item,
        part="pack",
        tune=found.tune,
        usual_tempo=round(quarters_per_minute(found.tune)),
        takes=takes,
        kept=kept,
        jobs=desk.jobs.all(KIND, address)[:1],
        rights=rights_statement(rights_line(found.tune)),
        cautions=CAUTIONS,
        take_rights=TAKE_RIGHTS,
        local=desk.settings.local,
        made=str(desk.settings.made) if desk.settings.local else "",
    )


@router.get("/tunes/{tune}/pack/kept", response_class=HTMLResponse)
def kept_packs(tune: ItemId, desk: AtDesk) -> HTMLResponse:
    """The packs on the shelf, as a piece of the page."""
    with desk.shelf() as shelf:
        opened(shelf, tune)
        kept = packs_of(shelf, tune)
    return HTMLResponse(fragment("pack/kept.html", kept=kept, tune_id=tune))


@router.post("/tunes/{tune}/pack/preview", response_model=Preview)
def preview(tune: ItemId, asked: PreviewAsked, desk: AtDesk) -> Preview:
    """A page of the lesson as it would be printed."""
    with desk.shelf() as shelf:
        found = opened(shelf, tune)
        made = drawn(shelf, found, asked)
    number = min(asked.page, len(made.pictures.pages))
    png = made.pictures.pages[number - 1]
    width, height = png_size(png)
    return Preview(
        picture="data:image/png;base64," + base64.b64encode(png).decode(),
        width=width,
        height=height,
        page=number,
        pages=len(made.pictures.pages),
        words=made.pictures.words(number),
        harp=made.harp,
        tempo=round(asked.tempo or quarters_per_minute(found.tune), 2),
        notices=list(made.notices),
    )


@router.get("/tunes/{tune}/pack/page.pdf", response_class=Response)
def page_pdf(tune: ItemId, desk: AtDesk, asked: Annotated[PageAsked, Query()]) -> Response:
    """The page alone, to be printed."""
    with desk.shelf() as shelf:
        found = opened(shelf, tune)
        arrangement = wanted_arrangement(shelf, found, asked)
        name = name_for(shelf, found.item, found.tune)
    return sent(lesson_pdf(arrangement, asked.page_settings()), f"{name}.pdf", look=True)


@router.post("/tunes/{tune}/pack/make", response_model=JobReport)
def make_pack_of(tune: ItemId, asked: PackAsked, desk: AtDesk) -> dict[str, Any]:
    """Begin the job that makes it."""
    settings = desk.settings
    with desk.shelf() as shelf:
        found = opened(shelf, tune)
        name = name_for(shelf, found.item, found.tune)
    task = PackTask(settings.shelf, settings.made, tune, name, asked)
    job = desk.jobs.begin(KIND, f"Pack of {found.tune.title}", f"/tunes/{tune}/pack", make, task)
    return report(job, settings.local)


@router.get("/tunes/{tune}/pack/kept/{pack}", response_class=FileResponse)
def kept_zip(tune: ItemId, pack: ItemId, desk: AtDesk) -> FileResponse:
    """The zip of a pack on the shelf."""
    with desk.shelf() as shelf:
        path, name = kept_pack(shelf, tune, pack), shelf.item(pack).name
    return FileResponse(path, media_type="application/zip", filename=f"{name}.zip")


@router.get("/tunes/{tune}/pack/kept/{pack}/{file}", response_class=Response, responses=PARTLY)
def kept_file(
    tune: ItemId,
    pack: ItemId,
    file: str,
    desk: AtDesk,
    look: bool = False,
    range: Annotated[str, Header(max_length=60)] = "",
) -> Response:
    """A file in a pack on the shelf; `look`: to be seen or heard in the browser."""
    with desk.shelf() as shelf:
        path = kept_pack(shelf, tune, pack)
    return sent(file_of(path, file), file, look, range)


def _takes(shelf: Shelf, tune: int) -> list[Item]:
    found = (shelf.item(link.item) for link in shelf.linked_to(tune, Role.OF))
    return [each for each in found if each.kind is Kind.TAKE and not each.removed]
