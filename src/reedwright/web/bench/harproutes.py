"""The bench's first page, and the page of each harp with its history.

Public: `router`.
"""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from pydantic import BaseModel

from reedwright.errors import ReedwrightError
from reedwright.harp.cautions import CAUTIONS, SHORT_CAUTION
from reedwright.harp.written import harp_text
from reedwright.shelf.belongings.from_bench import new_from_bench, take_in_bench
from reedwright.shelf.belongings.harps import keep_harp
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import ChangedMeanwhile, Kind
from reedwright.web.bench.answers import POSTED
from reedwright.web.bench.asking import Lines, Wrong, choices
from reedwright.web.bench.charting import chart
from reedwright.web.bench.course import (
    as_it_is,
    courses,
    drift_words,
    entry_rows,
    signed,
)
from reedwright.web.bench.kept import with_entry
from reedwright.web.desk import AtDesk
from reedwright.web.harpform import HarpAsked, Word, harp_asked, harp_fields
from reedwright.web.numbers import ItemId, StateNumber
from reedwright.web.ownharps import own_harp, own_harps
from reedwright.web.templating import page
from reedwright.workshop.history.keeping import add_conversion, add_note, unreadable
from reedwright.workshop.history.recalling import recalled
from reedwright.workshop.measuring.remarks import remarks
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.valving.advice import VALVE_CAUTIONS

router = APIRouter(prefix="/bench", tags=["bench"])


class OnShelf(BaseModel):
    there: bool


class NewHarp(HarpAsked):
    name: Word = ""


@router.get("", response_class=HTMLResponse)
def bench(request: Request, desk: AtDesk) -> HTMLResponse:
    with desk.shelf() as shelf:
        return _bench(request, shelf, NewHarp(), Wrong())


def _bench(
    request: Request, shelf: Shelf, new: NewHarp, wrong: Wrong, status: int = 200
) -> HTMLResponse:
    return page(
        request,
        "bench/bench.html",
        status,
        title="Bench",
        here="bench",
        harps=own_harps(shelf),
        waiting=new_from_bench(shelf),
        gone=tuple(shelf.items(Kind.HARP, removed=True)),
        unreadable=unreadable(),
        asked=new,
        wrong=wrong,
        choices=choices(),
        caution=SHORT_CAUTION,
        cautions=(*CAUTIONS, *VALVE_CAUTIONS),
    )


@router.post("/harps", **POSTED)
def new_harp(request: Request, desk: AtDesk, asked: Annotated[NewHarp, Form()]) -> Response:
    wrong = Wrong()
    harp = harp_asked(asked, wrong)
    with desk.shelf() as shelf:
        if harp is not None:
            try:
                kept = keep_harp(shelf, asked.name, harp_text(harp))
                return _to(kept.id)
            except ReedwrightError as error:
                wrong["name"] = str(error)
        return _bench(request, shelf, asked, wrong, 422)


@router.post("/take-in", **POSTED)
def taken_in(desk: AtDesk) -> Response:
    """Take in what the command line has measured since."""
    with desk.shelf() as shelf:
        take_in_bench(shelf)
    return RedirectResponse("/bench", 303)


@router.post("/harps/{item}/shelf", **POSTED)
def on_or_off(item: ItemId, desk: AtDesk, asked: Annotated[OnShelf, Form()]) -> Response:
    """Take a harp off the shelf, or put it back; its history is kept either way."""
    with desk.shelf() as shelf:
        own_harp(shelf, item)
        if asked.there:
            shelf.put_back(item)
        else:
            shelf.remove(item)
    return _to(item) if asked.there else RedirectResponse("/bench", 303)


@router.get("/harps/{item}", response_class=HTMLResponse)
def harp(request: Request, item: ItemId, desk: AtDesk) -> HTMLResponse:
    with desk.shelf() as shelf:
        return _harp(request, shelf, item, Wrong())


def _harp(
    request: Request, shelf: Shelf, item: int, wrong: Wrong, status: int = 200, note: str = ""
) -> HTMLResponse:
    with shelf.reading():
        own = own_harp(shelf, item)
        states = shelf.states(item)
    targets = None if own.harp is None else reed_targets(own.harp)
    drawn = () if targets is None else courses(own.history, targets)
    known = as_it_is(own.history)
    told: tuple[str, ...] = ()
    if targets is not None and known is not None:
        told = tuple(each.words for each in remarks(recalled(known, targets)))
    made_of = {state.number: state for state in states}
    ahead = [state for state in states if state.parent == own.item.state.number]
    return page(
        request,
        "bench/harp.html",
        status,
        title=own.item.name,
        here="bench",
        own=own,
        chart=None if own.harp is None else chart(own.harp),
        asked=HarpAsked() if own.harp is None else harp_fields(own.harp),
        entries=entry_rows(own.history),
        courses=drawn,
        pairs=_by_hole(drawn),
        drifting=drift_words(drawn),
        remarks=told,
        undoes=made_of[own.item.state.number].said if own.item.state.parent else "",
        redoes=ahead[-1].said if ahead else "",
        measured=any(each.points for each in drawn),
        choices=choices(),
        wrong=wrong,
        note=note,
        signed=signed,
        caution=SHORT_CAUTION,
    )


def _by_hole(drawn: tuple[object, ...]) -> list[tuple[object, object]]:
    """The courses two by two: a hole's blow reed and its draw reed."""
    return list(zip(drawn[::2], drawn[1::2], strict=True))


class Noted(BaseModel):
    note: Lines = ""
    state: StateNumber


class MadeOther(HarpAsked):
    note: Lines = ""
    state: StateNumber


class From(BaseModel):
    """`state`: the one that the page showed."""

    state: StateNumber


@router.post("/harps/{item}/notes", **POSTED)
def noted(
    request: Request, item: ItemId, desk: AtDesk, asked: Annotated[Noted, Form()]
) -> Response:
    with desk.shelf() as shelf:
        try:
            with_entry(
                shelf, item, lambda history: add_note(history, asked.note), "noted", asked.state
            )
        except (ChangedMeanwhile, ReedwrightError) as error:
            return _harp(request, shelf, item, _said("note", error), 422, asked.note)
    return _to(item)


@router.post("/harps/{item}/conversions", **POSTED)
def made_other(
    request: Request, item: ItemId, desk: AtDesk, asked: Annotated[MadeOther, Form()]
) -> Response:
    """Say that it was made another harp."""
    wrong = Wrong()
    harp = harp_asked(asked, wrong)
    with desk.shelf() as shelf:
        if harp is None:
            return _harp(request, shelf, item, wrong, 422)
        words = harp_text(harp)
        try:
            with_entry(
                shelf,
                item,
                lambda history: add_conversion(history, words, note=asked.note),
                f"made {harp.name}",
                asked.state,
            )
        except (ChangedMeanwhile, ReedwrightError) as error:
            return _harp(request, shelf, item, _said("made", error), 422)
    return _to(item)


@router.post("/harps/{item}/{way}", **POSTED)
def undone(
    request: Request,
    item: ItemId,
    way: Literal["undo", "redo"],
    desk: AtDesk,
    asked: Annotated[From, Form()],
) -> Response:
    """Take the last entry back, or put it back."""
    with desk.shelf() as shelf:
        try:
            with shelf.change():
                now = own_harp(shelf, item)
                if now.item.state.number != asked.state:
                    raise ChangedMeanwhile(
                        f"{now.item.name} was changed meanwhile ({now.item.state.said}). Look at "
                        "what it says now."
                    )
                shelf.undo(item) if way == "undo" else shelf.redo(item)
        except (ChangedMeanwhile, ReedwrightError) as error:
            return _harp(request, shelf, item, _said("undo", error), 409)
    return _to(item)


def _said(field: str, error: Exception) -> Wrong:
    wrong = Wrong()
    wrong[field] = str(error)
    return wrong


def _to(item: int) -> RedirectResponse:
    return RedirectResponse(f"/bench/harps/{item}", 303)
