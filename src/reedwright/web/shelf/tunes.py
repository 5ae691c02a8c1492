"""One tune's place on the shelf: its states, what belongs to it, settings of the same tune.

Public: `router`.
"""

from __future__ import annotations

from pathlib import PurePath
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from reedwright.shelf import changing
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.likenesses.deciding import (
    accept,
    any_said,
    count_offers,
    offers,
    refuse,
    take_back,
)
from reedwright.shelf.model import Kind, NotOnShelf, Role
from reedwright.tune.likeness.differing import differing_words
from reedwright.web.addresses import address_of
from reedwright.web.desk import AtDesk
from reedwright.web.numbers import MOST, ItemId
from reedwright.web.shelf.keeping import kept_of
from reedwright.web.templating import page

router = APIRouter(tags=["shelf"])

MOST_OFFERS = 100  # pairs on one page
MOST_REMOVED = 500

Which = Annotated[int, Form(ge=1, le=MOST)]


@router.get("/shelf/settings", response_class=HTMLResponse)
def all_settings(request: Request, desk: AtDesk) -> HTMLResponse:
    """Pairs of tunes that seem to be settings of one tune."""
    with desk.shelf() as shelf:
        found = offers(shelf, limit=MOST_OFFERS)
        count = count_offers(shelf)
        judged = any_said(shelf)
    return page(
        request,
        "shelf/settings.html",
        title="Versions of one tune",
        here="shelf",
        offers=[(offer, differing_words(offer.differing)) for offer in found],
        count=count,
        judged=judged,
    )


@router.post("/shelf/settings/take-back", response_class=RedirectResponse, status_code=303)
def settings_back(desk: AtDesk) -> RedirectResponse:
    """Take back what was said last of settings."""
    with desk.shelf() as shelf:
        take_back(shelf)
    return RedirectResponse("/shelf/settings", 303)


@router.get("/shelf/removed", response_class=HTMLResponse)
def removed(request: Request, desk: AtDesk) -> HTMLResponse:
    """What was taken off the shelf, and can be put back."""
    with desk.shelf() as shelf:
        items = list(shelf.items(removed=True))
    return page(
        request,
        "shelf/removed.html",
        title="Taken off the shelf",
        here="shelf",
        items=items[::-1][:MOST_REMOVED],
        count=len(items),
    )


@router.post("/shelf/removed/{number}/put-back", response_class=RedirectResponse, status_code=303)
def put_back_any(number: ItemId, desk: AtDesk) -> RedirectResponse:
    with desk.shelf() as shelf:
        item = shelf.put_back(number)
    return RedirectResponse(address_of(item) or "/shelf/removed", 303)


@router.get("/shelf/{number}", response_class=HTMLResponse)
def tune(number: ItemId, request: Request, desk: AtDesk) -> HTMLResponse:
    with desk.shelf() as shelf:
        kept = kept_of(shelf, number)
        judged = any_said(shelf)
    item = kept.story.item
    file = PurePath(str(item.state.about.get("file", ""))).name
    return page(
        request,
        "shelf/tune.html",
        title=f"{item.name}: kept on the shelf",
        here="shelf",
        kept=kept,
        tune_item=item,
        part="",
        file=file,
        judged=judged,
    )


@router.post("/shelf/{number}/go-to", response_class=RedirectResponse, status_code=303)
def go_to(
    number: ItemId, item: Which, state: Annotated[int, Form(ge=1, le=MOST)], desk: AtDesk
) -> RedirectResponse:
    """To any state of the tune or of an arrangement of it."""
    with desk.shelf() as shelf:
        changing.go_to(shelf, _of_tune(shelf, number, item), state)
    return _back(number)


@router.post("/shelf/{number}/undo", response_class=RedirectResponse, status_code=303)
def undo(number: ItemId, item: Which, desk: AtDesk) -> RedirectResponse:
    with desk.shelf() as shelf:
        changing.undo(shelf, _of_tune(shelf, number, item))
    return _back(number)


@router.post("/shelf/{number}/redo", response_class=RedirectResponse, status_code=303)
def redo(number: ItemId, item: Which, desk: AtDesk) -> RedirectResponse:
    with desk.shelf() as shelf:
        changing.redo(shelf, _of_tune(shelf, number, item))
    return _back(number)


@router.post("/shelf/{number}/remove", response_class=RedirectResponse, status_code=303)
def remove(number: ItemId, item: Which, desk: AtDesk) -> RedirectResponse:
    """Off the shelf: the tune, or something that belongs to it. It is kept, and can be put back."""
    with desk.shelf() as shelf:
        shelf.remove(_of_tune(shelf, number, item))
    return _back(number)


@router.post("/shelf/{number}/put-back", response_class=RedirectResponse, status_code=303)
def put_back(number: ItemId, item: Which, desk: AtDesk) -> RedirectResponse:
    with desk.shelf() as shelf:
        shelf.put_back(_of_tune(shelf, number, item))
    return _back(number)


@router.post("/shelf/{number}/settings", response_class=RedirectResponse, status_code=303)
def judge(
    number: ItemId,
    other: Which,
    same: Annotated[bool, Form()],
    desk: AtDesk,
    from_all: Annotated[bool, Form()] = False,
) -> RedirectResponse:
    """Say whether another tune is a setting of this one."""
    with desk.shelf() as shelf:
        if same:
            accept(shelf, number, other)
        else:
            refuse(shelf, number, other)
    return RedirectResponse("/shelf/settings", 303) if from_all else _back(number)


def _of_tune(shelf: Shelf, number: int, item: int) -> int:
    """The tune itself or what belongs to it. Raises `NotOnShelf` for anything else."""
    shelf.item(number, Kind.TUNE)
    if item != number and item not in {link.item for link in shelf.linked_to(number, Role.OF)}:
        raise NotOnShelf(f"Number {item} does not belong to tune {number}.")
    return item


def _back(number: int) -> RedirectResponse:
    return RedirectResponse(f"/shelf/{number}", 303)
