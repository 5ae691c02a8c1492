"""An evening asked for, and what a set needs of harps; set sheets to print.

Public: `router`.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from reedwright.errors import ReedwrightError
from reedwright.folders.names import file_name
from reedwright.player.loading import all_profiles
from reedwright.shelf.belongings.lessons import tunes_of
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Item, Kind, ShelfError
from reedwright.tab.sets.model import Evening
from reedwright.tab.words import listed
from reedwright.web.desk import AtDesk
from reedwright.web.numbers import ItemId
from reedwright.web.sending import sent
from reedwright.web.shelf.evenings import Planning, Wishes, kept_evening, plan_work, set_sheet
from reedwright.web.shelf.lists import is_evening, list_on
from reedwright.web.shelf.setharps import MOST_AT_ONCE, harps_needed
from reedwright.web.templating import fragment, page

router = APIRouter(tags=["sets"])

KIND = "evening"
Few = Annotated[int, Form(ge=1, le=12)]
Paper = Literal["a4", "letter", "a5"]


@router.get("/sets/{number}/harps", response_class=HTMLResponse)
def harps(
    number: ItemId, desk: AtDesk, no_bends: bool = False, owned: bool = False, all: bool = False
) -> HTMLResponse:
    """The fewest harps, as a piece of the set's page. `all`: also where it takes long."""
    values: dict[str, Any] = {"number": number, "needed": None, "trouble": "", "long": 0}
    with desk.shelf() as shelf:
        item = list_on(shelf, number)
        count = len(tunes_of(shelf, number))
        if count > MOST_AT_ONCE and not all:
            values["long"] = count
        elif count:
            try:
                values["needed"] = harps_needed(shelf, item, no_bends, owned)
            except ReedwrightError as error:
                values["trouble"] = str(error)
    return HTMLResponse(fragment("shelf/harps.html", listed=listed, **values))


@router.get("/sets/{number}/sheet.pdf", response_class=Response)
def sheet(number: ItemId, desk: AtDesk, paper: Paper = "a4") -> Response:
    """The set sheet for the music stand."""
    with desk.shelf() as shelf:
        item = list_on(shelf, number)
        evening = _evening(shelf, item)
    name = file_name(item.name, str(number))
    return sent(set_sheet(evening, paper), f"{name}.pdf", look=True)


def _evening(shelf: Shelf, item: Item) -> Evening:
    if is_evening(item):
        return kept_evening(shelf, item)
    needed = harps_needed(shelf, item)
    if not needed.choice.tunes:
        raise ShelfError("No harp plays any of these tunes, so there is nothing to print.")
    return needed.sheet(item.name)


@router.get("/sets/{number}/plan", response_class=HTMLResponse)
def plan_page(number: ItemId, request: Request, desk: AtDesk) -> HTMLResponse:
    with desk.shelf() as shelf:
        item = list_on(shelf, number)
        count = len(tunes_of(shelf, number))
        owned = shelf.counts().get(Kind.HARP, 0)
    return page(
        request,
        "shelf/plan.html",
        title=f"Plan an evening: {item.name}",
        here="sets",
        item=item,
        count=count,
        owned=owned,
        players=sorted(all_profiles()),
        wishes=Wishes(),
        jobs=list(desk.jobs.all(kind=KIND, page=f"/sets/{number}/plan")),
    )


@router.post("/sets/{number}/plan", response_class=RedirectResponse, status_code=303)
def plan(
    number: ItemId,
    desk: AtDesk,
    title: Annotated[str, Form(max_length=200)] = "Evening",
    sets: Annotated[str, Form(max_length=10)] = "",
    minutes: Annotated[str, Form(max_length=10)] = "",
    fewest: Few = 2,
    usual: Few = 3,
    most: Few = 4,
    times: Few = 3,
    most_harps: Annotated[str, Form(max_length=10)] = "",
    hardest: Annotated[Literal["last", "first", "any"], Form()] = "last",
    player: Annotated[str, Form(max_length=100)] = "player",
    no_bends: Annotated[bool, Form()] = False,
    owned: Annotated[bool, Form()] = False,
    mixed: Annotated[bool, Form()] = False,
) -> RedirectResponse:
    """Have an evening planned from the tunes of this list; a job."""
    if player not in all_profiles():
        raise ShelfError(f"There is no player's profile called '{player}'.")
    wishes = Wishes(
        " ".join(title.split()) or "Evening",
        _number("Sets", sets, 50),
        _number("Minutes", minutes, 1440),
        fewest,
        usual,
        most,
        times,
        no_bends,
        owned,
        _number("Harps at most", most_harps, 20),
        hardest,
        mixed,
        player,
    )
    wishes.rules([])  # so that what can't be is told before anything is begun
    with desk.shelf() as shelf:
        item = list_on(shelf, number)
        if not tunes_of(shelf, number):
            raise ShelfError(f"{item.name} has no tunes yet. Add some first.")
    page_ = f"/sets/{number}/plan"
    task = Planning(desk.settings.shelf, number, wishes)
    desk.jobs.begin(KIND, f"Planning {wishes.title}", page_, plan_work, task)
    return RedirectResponse(page_, 303)


def _number(what: str, text: str, most: int) -> int | None:
    """A whole number from 1 to the most, or None where nothing is written."""
    plain = text.strip()
    if not plain:
        return None
    if not (plain.isascii() and plain.isdecimal() and 1 <= int(plain) <= most):
        raise ShelfError(f"{what}: '{plain}' is no whole number from 1 to {most}.")
    return int(plain)
