"""The harps that somebody has, from the side of the music: added, taken off, put back.

What was measured and done to them is the bench's (`web.bench`).

Public: `router`.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from pydantic import BaseModel

from reedwright.errors import ReedwrightError
from reedwright.harp.written import harp_text
from reedwright.shelf.belongings.harps import keep_harp
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Item, Kind, NotOnShelf
from reedwright.web.desk import AtDesk
from reedwright.web.harpform import HarpAsked, harp_asked, harp_choices
from reedwright.web.harps.asked import Word
from reedwright.web.numbers import ItemId, NumberOrNone
from reedwright.web.ownharps import own_harps
from reedwright.web.templating import page

router = APIRouter(prefix="/harps")


class NewHarp(HarpAsked):
    name: Word = ""
    tune: NumberOrNone = 0


class FromPage(BaseModel):
    tune: NumberOrNone = 0


@router.get("", response_class=HTMLResponse)
def mine(
    request: Request,
    desk: AtDesk,
    tune: Annotated[NumberOrNone, Query()] = 0,
    off: Annotated[NumberOrNone, Query()] = 0,
) -> HTMLResponse:
    """`off`: the harp that was just taken off, so that it can be put back."""
    with desk.shelf() as shelf:
        return _mine(request, shelf, NewHarp(tune=tune), {}, off=off)


def _mine(
    request: Request,
    shelf: Shelf,
    asked: NewHarp,
    wrong: dict[str, str],
    status: int = 200,
    off: int = 0,
) -> HTMLResponse:
    gone = list(shelf.items(Kind.HARP, removed=True))
    return page(
        request,
        "harps/mine.html",
        status,
        title="My harps",
        here="bench",
        harps=own_harps(shelf),
        gone=gone,
        just_off=next((item for item in gone if item.id == off), None),
        back=_tune(shelf, asked.tune),
        asked=asked,
        wrong=wrong,
        choices=harp_choices(),
    )


def _tune(shelf: Shelf, number: int) -> Item | None:
    if not number:
        return None
    try:
        found = shelf.item(number)
    except NotOnShelf:
        return None
    return found if found.kind is Kind.TUNE and not found.removed else None


@router.post("", response_class=HTMLResponse, status_code=303)
def add(request: Request, desk: AtDesk, asked: Annotated[NewHarp, Form()]) -> Response:
    wrong: dict[str, str] = {}
    harp = harp_asked(asked, wrong)
    with desk.shelf() as shelf:
        if harp is not None:
            try:
                keep_harp(shelf, asked.name, harp_text(harp))
            except ReedwrightError as error:
                wrong["name"] = str(error)
        if wrong:
            return _mine(request, shelf, asked, wrong, 422)
    return _to(asked.tune)


@router.post("/{item}/off", response_class=RedirectResponse, status_code=303)
def take_off(desk: AtDesk, asked: Annotated[FromPage, Form()], item: ItemId) -> RedirectResponse:
    with desk.shelf() as shelf:
        shelf.remove(shelf.item(item, Kind.HARP).id)
    return _to(asked.tune, item)


@router.post("/{item}/back", response_class=RedirectResponse, status_code=303)
def put_back(desk: AtDesk, asked: Annotated[FromPage, Form()], item: ItemId) -> RedirectResponse:
    with desk.shelf() as shelf:
        shelf.put_back(shelf.item(item, Kind.HARP).id)
    return _to(asked.tune)


def _to(tune: int, off: int = 0) -> RedirectResponse:
    said = "&".join(f"{name}={value}" for name, value in (("tune", tune), ("off", off)) if value)
    return RedirectResponse("/harps" + (f"?{said}" if said else ""), 303)
