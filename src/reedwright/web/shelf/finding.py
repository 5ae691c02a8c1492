"""The shelf's page: searched as one types, with the first bars of what is found.

Public: `router`.
"""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, Response

from reedwright.errors import ReedwrightError
from reedwright.shelf.finding.model import Answer
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Kind
from reedwright.web.desk import AtDesk
from reedwright.web.numbers import ItemId
from reedwright.web.shelf.asking import MOST, PAGE, Asked, asked_from, nothing_found
from reedwright.web.shelf.openings import opening_of
from reedwright.web.templating import fragment, page

router = APIRouter(tags=["shelf"])

_FOR_GOOD = {"cache-control": "private, max-age=31536000, immutable"}
_UNTIL_CHANGED = {"cache-control": "private, no-cache"}

Offset = Annotated[int, Query(ge=0, le=MOST)]


@router.get("/shelf", response_class=HTMLResponse)
def shelf_page(request: Request, desk: AtDesk) -> HTMLResponse:
    asked = asked_from(request.query_params)
    with desk.shelf() as shelf:
        tunes = shelf.counts().get(Kind.TUNE, 0)
        found = _found(shelf, asked, 0)
        removed = sum(1 for _ in shelf.items(removed=True))
    return page(
        request,
        "shelf/shelf.html",
        title="Shelf",
        here="shelf",
        asked=asked,
        tunes=tunes,
        removed=removed,
        **found,
    )


@router.get("/shelf/found", response_class=HTMLResponse)
def found(request: Request, desk: AtDesk, offset: Offset = 0) -> HTMLResponse:
    """What is found, as a piece of the page; from `offset` on, rows alone."""
    asked = asked_from(request.query_params)
    with desk.shelf() as shelf:
        values = _found(shelf, asked, offset)
    piece = "shelf/rows.html" if offset else "shelf/found.html"
    address = f"/shelf?{asked.query()}" if asked.fields else "/shelf"
    return HTMLResponse(
        fragment(piece, asked=asked, **values),
        headers={"hx-replace-url": address} if not offset else None,
    )


def _found(shelf: Shelf, asked: Asked, offset: int) -> dict[str, Any]:
    answer, trouble = Answer((), 0), ""
    try:
        answer = asked.answer(shelf, offset)
    except ReedwrightError as error:
        trouble = str(error)
    states = {hit.item: shelf.item(hit.item).state.number for hit in answer.hits}
    return {
        "answer": answer,
        "trouble": trouble,
        "states": states,
        "hints": nothing_found(shelf, asked) if not answer.count and not trouble else (),
        "next": offset + PAGE if answer.count > offset + PAGE else 0,
    }


@router.get("/shelf/{number}/opening.svg", response_class=Response)
def opening(number: ItemId, desk: AtDesk, at: int = 0) -> Response:
    """How a tune begins. `at`: the state that is meant, so that a browser may keep it for good."""
    try:
        with desk.shelf() as shelf:
            drawn = opening_of(shelf, number)
            same = shelf.item(number).state.number == at
    except ReedwrightError:
        return Response(status_code=404)
    return Response(
        drawn.svg, media_type="image/svg+xml", headers=_FOR_GOOD if same else _UNTIL_CHANGED
    )
