"""Players: their profiles seen, begun and changed, every change a step that can be undone.

Public: `router`.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from pydantic import BaseModel

from reedwright.errors import ReedwrightError
from reedwright.player.checking import ProfileError
from reedwright.player.describing import techniques_text
from reedwright.player.profile import TECHNIQUES
from reedwright.shelf.belongings.profiles import profile_on
from reedwright.shelf.changing import redo, undo
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import ChangedMeanwhile, Item, Kind
from reedwright.web.desk import AtDesk
from reedwright.web.harps.asked import Word
from reedwright.web.harps.players import ON_SHELF, player_choices, player_of
from reedwright.web.harps.profiles import ProfileAsked, begun, changed_text, figures
from reedwright.web.numbers import ItemId, NumberOrNone, StateNumber
from reedwright.web.templating import page

router = APIRouter(prefix="/players")

CHANGED = "This player was changed in another window meanwhile. Load the page again."
Off = Annotated[NumberOrNone, Query()]


class NewPlayer(BaseModel):
    name: Word = ""
    source: Word = "player"


class FromState(BaseModel):
    """`state`: the one that the page showed."""

    state: StateNumber


@router.get("", response_class=HTMLResponse)
def players(request: Request, desk: AtDesk, off: Off = 0) -> HTMLResponse:
    """`off`: the one that was just taken off, so that it can be put back."""
    with desk.shelf() as shelf:
        return _players(request, shelf, NewPlayer(), {}, off=off)


def _players(
    request: Request,
    shelf: Shelf,
    asked: NewPlayer,
    wrong: dict[str, str],
    status: int = 200,
    off: int = 0,
) -> HTMLResponse:
    kept = []
    for item in shelf.items(Kind.PROFILE):
        try:
            kept.append((item, techniques_text(profile_on(shelf, item.id))))
        except ReedwrightError as error:
            kept.append((item, str(error)))
    gone = list(shelf.items(Kind.PROFILE, removed=True))
    choices = player_choices(shelf)
    return page(
        request,
        "harps/players.html",
        status,
        title="Players",
        here="bench",
        shipped=[each for each in choices if not each.item],
        kept=kept,
        gone=gone,
        just_off=next((item for item in gone if item.id == off), None),
        choices=choices,
        techniques_text=techniques_text,
        asked=asked,
        wrong=wrong,
    )


@router.post("", response_class=HTMLResponse, status_code=303)
def begin(request: Request, desk: AtDesk, asked: Annotated[NewPlayer, Form()]) -> Response:
    with desk.shelf() as shelf:
        try:
            made = begun(shelf, asked.name, asked.source)
        except ProfileError as error:
            return _players(request, shelf, asked, {"name": str(error)}, 422)
    return _to(made.id)


@router.get("/one", response_class=HTMLResponse)
def player(request: Request, desk: AtDesk, player: Word = "player") -> HTMLResponse:
    """One player by its key: to be changed, where it is kept on the shelf; else to be seen."""
    with desk.shelf() as shelf:
        found = player_of(player_choices(shelf), player)
        if found.item:
            return _player(request, shelf, found.item, {})
    return page(
        request,
        "harps/shown.html",
        title=found.profile.title,
        here="bench",
        profile=found.profile,
        techniques=techniques_text(found.profile),
        figures=figures(found.profile),
    )


def _player(
    request: Request,
    shelf: Shelf,
    number: int,
    wrong: dict[str, str],
    typed: ProfileAsked | None = None,
    status: int = 200,
) -> HTMLResponse:
    with shelf.reading():
        item = shelf.item(number, Kind.PROFILE)
        profile = profile_on(shelf, number)
        states = shelf.states(number)
    return page(
        request,
        "harps/player.html",
        status,
        title=profile.title,
        here="bench",
        item=item,
        profile=profile,
        figures=figures(profile, typed),
        heard=typed,
        techniques=[
            (each, each in typed.technique if typed else profile.has(each)) for each in TECHNIQUES
        ],
        undoes=item.state.said if item.state.parent else "",
        redoes=next((each.said for each in states[::-1] if each.parent == item.state.number), ""),
        wrong=wrong,
    )


@router.post("/{item:int}", response_class=HTMLResponse, status_code=303)
def change(
    request: Request, desk: AtDesk, asked: Annotated[ProfileAsked, Form()], item: ItemId
) -> Response:
    wrong: dict[str, str] = {}
    with desk.shelf() as shelf:
        there = _same(shelf, item, asked.state)
        text = changed_text(there.name, there.state.text, asked, wrong)
        if wrong:
            return _player(request, shelf, item, wrong, asked, 422)
        if text != there.state.text:
            shelf.revise(item, text, said="changed", made_from=asked.state)
    return _to(item)


@router.post("/{item:int}/undo", response_class=RedirectResponse, status_code=303)
def undone(desk: AtDesk, asked: Annotated[FromState, Form()], item: ItemId) -> Response:
    with desk.shelf() as shelf, shelf.change():
        undo(shelf, _same(shelf, item, asked.state).id)
    return _to(item)


@router.post("/{item:int}/redo", response_class=RedirectResponse, status_code=303)
def done_again(desk: AtDesk, asked: Annotated[FromState, Form()], item: ItemId) -> Response:
    with desk.shelf() as shelf, shelf.change():
        redo(shelf, _same(shelf, item, asked.state).id)
    return _to(item)


def _same(shelf: Shelf, number: int, state: int) -> Item:
    found = shelf.item(number, Kind.PROFILE)
    if found.state.number != state:
        raise ChangedMeanwhile(CHANGED)
    return found


@router.post("/{item:int}/off", response_class=RedirectResponse, status_code=303)
def take_off(desk: AtDesk, item: ItemId) -> Response:
    with desk.shelf() as shelf:
        shelf.remove(shelf.item(item, Kind.PROFILE).id)
    return RedirectResponse(f"/players?off={item}", 303)


@router.post("/{item:int}/back", response_class=RedirectResponse, status_code=303)
def put_back(desk: AtDesk, item: ItemId) -> Response:
    with desk.shelf() as shelf:
        shelf.put_back(shelf.item(item, Kind.PROFILE).id)
    return _to(item)


def _to(item: int) -> RedirectResponse:
    return RedirectResponse(f"/players/one?player={ON_SHELF}{item}", 303)
