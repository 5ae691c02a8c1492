"""Sets and lists over the web: made, filled, put in order, undone; two tabs told of each other.

Public: `router`.
"""

from __future__ import annotations

from typing import Annotated, Any
from urllib.parse import parse_qsl

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from reedwright.errors import ReedwrightError
from reedwright.shelf import changing
from reedwright.shelf.belongings.lists import lists_on
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import ChangedMeanwhile, Item
from reedwright.web.desk import AtDesk
from reedwright.web.numbers import MOST, ItemId
from reedwright.web.shelf.asking import Asked, asked_from
from reedwright.web.shelf.evenings import kept_evening
from reedwright.web.shelf.keeping import story_of
from reedwright.web.shelf.lists import (
    change,
    is_evening,
    list_on,
    new_list,
)
from reedwright.web.shelf.setmodel import (
    ContentSent,
    From,
    SetView,
    State,
    Told,
    TuneFound,
    view_of,
)
from reedwright.web.templating import for_script, page

router = APIRouter(tags=["sets"])

FOUND_IN_PLACE = 8  # tunes offered while somebody types
MOST_FOUND = 2_000  # tunes of a search that are made a list

_TOLD: dict[int | str, dict[str, Any]] = {
    404: {"model": Told},
    409: {"model": Told},
    422: {"model": Told},
}


@router.get("/sets", response_class=HTMLResponse)
def sets(request: Request, desk: AtDesk) -> HTMLResponse:
    with desk.shelf() as shelf:
        found = sorted(lists_on(shelf), key=lambda item: item.name.casefold())
        rows = [(item, len(shelf.links(item.id)), is_evening(item)) for item in found]
    return page(request, "shelf/sets.html", title="Sets", here="sets", rows=rows)


@router.post("/sets", response_class=RedirectResponse, status_code=303)
def begin(
    desk: AtDesk,
    name: Annotated[str, Form(max_length=200)],
    found: Annotated[str, Form(max_length=50_000)] = "",
) -> RedirectResponse:
    """A new set; `found`: the query of a search, of all that it finds."""
    with desk.shelf() as shelf:
        tunes = _found(shelf, found) if found else []
        item = new_list(shelf, name, tunes)
    return RedirectResponse(f"/sets/{item.id}", 303)


def _found(shelf: Shelf, query: str) -> list[int]:
    asked = asked_from(dict(parse_qsl(query)))
    return [hit.item for hit in asked.answer(shelf, 0, MOST_FOUND).hits]


@router.get("/sets/find", response_model=list[TuneFound])
def find(desk: AtDesk, words: Annotated[str, Query(max_length=500)] = "") -> list[TuneFound]:
    """Tunes to add, by words as they are typed."""
    if not words.strip():
        return []
    with desk.shelf() as shelf:
        answer = Asked({"words": words}).answer(shelf, 0, FOUND_IN_PLACE)
    return [
        TuneFound(
            id=hit.item,
            title=hit.title,
            kind=", ".join(part for part in (hit.type, hit.key) if part),
        )
        for hit in answer.hits
    ]


@router.get("/sets/{number}", response_class=HTMLResponse)
def one(number: ItemId, request: Request, desk: AtDesk) -> HTMLResponse:
    with desk.shelf() as shelf:
        item = list_on(shelf, number)
        evening = is_evening(item)
        values: dict[str, Any] = {"story": story_of(shelf, item)}
        if evening:
            values |= {"evening": kept_evening(shelf, item)}
        else:
            view = view_of(shelf, item)
            values |= {"view": view, "view_json": for_script(view.model_dump_json())}
    return page(
        request,
        "shelf/evening.html" if evening else "shelf/set.html",
        title=item.name,
        here="sets",
        item=item,
        **values,
    )


@router.get("/sets/{number}/state", response_model=State, responses=_TOLD)
def state(number: ItemId, desk: AtDesk) -> State:
    """Which state it is in; asked by pages that stand open."""
    with desk.shelf() as shelf:
        return State(state=list_on(shelf, number).state.number)


@router.get("/sets/{number}/view", response_model=SetView, responses=_TOLD)
def view(number: ItemId, desk: AtDesk) -> SetView:
    with desk.shelf() as shelf:
        return view_of(shelf, list_on(shelf, number))


@router.post("/sets/{number}/content", response_model=SetView, responses=_TOLD)
def content(number: ItemId, sent: ContentSent, desk: AtDesk) -> SetView | Response:
    """All that the set says from now on. 409 where it was changed meanwhile, with what it says
    now; unless `keep_both`: then this is a state before that, which stays the present one."""
    with desk.shelf() as shelf:
        try:
            item = change(shelf, number, sent.content(), sent.made_from)
        except ChangedMeanwhile as error:
            if not sent.keep_both:
                return _changed_meanwhile(shelf, number, error)
            item = _kept_beside(shelf, number, sent)
        return view_of(shelf, item)


def _kept_beside(shelf: Shelf, number: int, sent: ContentSent) -> Item:
    """What was not taken is a state of its own all the same, to be gone back to."""
    with shelf.change():
        now = list_on(shelf, number).state.number
        change(shelf, number, sent.content(), now, said="from another page, not taken")
        return changing.go_to(shelf, number, now)


def _changed_meanwhile(shelf: Shelf, number: int, error: ReedwrightError) -> Response:
    told = Told(
        kind="changed-meanwhile", message=str(error), view=view_of(shelf, list_on(shelf, number))
    )
    return JSONResponse(told.model_dump(), 409)


@router.post("/sets/{number}/undo", response_model=SetView, responses=_TOLD)
def undo(number: ItemId, sent: From, desk: AtDesk) -> SetView | Response:
    return _moved(desk, number, sent.made_from, "undo")


@router.post("/sets/{number}/redo", response_model=SetView, responses=_TOLD)
def redo(number: ItemId, sent: From, desk: AtDesk) -> SetView | Response:
    return _moved(desk, number, sent.made_from, "redo")


def _moved(desk: AtDesk, number: int, made_from: int, way: str) -> SetView | Response:
    with desk.shelf() as shelf:
        with shelf.change():
            item = list_on(shelf, number)
            if item.state.number == made_from:
                step = changing.undo if way == "undo" else changing.redo
                return view_of(shelf, step(shelf, number))
        words = f"{item.name} was changed meanwhile. Look at what it says now."
        return _changed_meanwhile(shelf, number, ReedwrightError(words))


@router.post("/sets/{number}/go-to", response_class=RedirectResponse, status_code=303)
def go_to(
    number: ItemId, state: Annotated[int, Form(ge=1, le=MOST)], desk: AtDesk
) -> RedirectResponse:
    with desk.shelf() as shelf:
        changing.go_to(shelf, list_on(shelf, number).id, state)
    return RedirectResponse(f"/sets/{number}", 303)


@router.post("/sets/{number}/name", response_class=RedirectResponse, status_code=303)
def rename(
    number: ItemId, name: Annotated[str, Form(max_length=200)], desk: AtDesk
) -> RedirectResponse:
    """Of an evening; a list is called on its page."""
    with desk.shelf() as shelf:
        changing.rename(shelf, list_on(shelf, number).id, name)
    return RedirectResponse(f"/sets/{number}", 303)


@router.post("/sets/{number}/remove", response_class=RedirectResponse, status_code=303)
def remove(number: ItemId, desk: AtDesk) -> RedirectResponse:
    with desk.shelf() as shelf:
        shelf.remove(list_on(shelf, number).id)
    return RedirectResponse(f"/sets/{number}", 303)


@router.post("/sets/{number}/put-back", response_class=RedirectResponse, status_code=303)
def put_back(number: ItemId, desk: AtDesk) -> RedirectResponse:
    with desk.shelf() as shelf:
        shelf.put_back(list_on(shelf, number).id)
    return RedirectResponse(f"/sets/{number}", 303)
