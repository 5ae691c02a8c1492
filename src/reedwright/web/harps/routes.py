"""Which harp a tune lies best on: the ranked table, and harps side by side.

Public: `router`.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from pydantic import Field

from reedwright.errors import ReedwrightError
from reedwright.harp.position import ORDINALS
from reedwright.harp.tunings import all_tunings
from reedwright.page.content import signs_in_print
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Item, NotOnShelf
from reedwright.tab.arrangement import Arrangement
from reedwright.web.desk import AtDesk, Desk
from reedwright.web.harps.asked import (
    COLUMNS,
    MOST_ROWS,
    Asked,
    HeardAsked,
    SeenAsked,
    Word,
    picked,
)
from reedwright.web.harps.comparing import compared
from reedwright.web.harps.hearing import times_on, wav_on
from reedwright.web.harps.mineroutes import router as mine
from reedwright.web.harps.playerroutes import router as players
from reedwright.web.harps.ranked import table
from reedwright.web.harps.seeing import Ground, Seen, ground, seen, use
from reedwright.web.harps.valving import valving
from reedwright.web.music.drawing import NARROW, WIDE, Sheet, sheet
from reedwright.web.music.standing import Version
from reedwright.web.music.told import TimesView
from reedwright.web.numbers import ItemId, NumberOrNone
from reedwright.web.templating import page

router = APIRouter(tags=["harps"])
router.include_router(mine)
router.include_router(players)

_NUMBERS = ("effort", "turning", "moving", "bending", "other", "bends", "overs", "missing",
            "ornaments", "air")  # fmt: skip


@router.get("/tunes/{tune}/harps", response_class=HTMLResponse)
def harps(
    request: Request, desk: AtDesk, asked: Annotated[Asked, Query()], tune: ItemId
) -> Response:
    with desk.shelf() as shelf:
        try:
            on = ground(shelf, tune, asked.player, asked.voice)
        except NotOnShelf:
            raise
        except ReedwrightError as error:
            return _nothing(request, shelf.item(tune), str(error))
    found = table(on.session.tune, on.profile, on.voice, on.semitones, on.owned, asked)
    answer = page(
        request,
        "harps/harps.html",
        title=f"Which harp: {on.item.name}",
        tune_item=on.item,
        part="harps",
        on=on,
        asked=asked,
        found=found,
        columns=COLUMNS,
        numbers=_NUMBERS,
        ordinals=ORDINALS,
        tunings=[(name, each.title) for name, each in all_tunings().items()],
        most=MOST_ROWS,
        seen_by=_also(asked.player, asked.voice),
    )
    # The address as it is bookmarked, without what goes without saying.
    query = asked.query
    answer.headers["HX-Push-Url"] = request.url.path + (f"?{query}" if query else "")
    return answer


def _nothing(request: Request, item: Item, why: str) -> HTMLResponse:
    """The page where no harp can be ranked, with the way to where it is mended."""
    title = f"Which harp: {item.name}"
    return page(
        request, "harps/nothing.html", 422, title=title, tune_item=item, part="harps", why=why
    )


def _also(player: str, voice: int) -> dict[str, str]:
    """What a link to one harp takes along of the filters."""
    found = {"player": player} if player else {}
    return {**found, "voice": str(voice)} if voice else found


@router.get("/tunes/{tune}/harps/look", response_class=HTMLResponse)
def look(
    request: Request, desk: AtDesk, asked: Annotated[SeenAsked, Query()], tune: ItemId
) -> HTMLResponse:
    with desk.shelf() as shelf:
        on = ground(shelf, tune, asked.player, asked.voice)
    found = seen(on, asked.harp)
    return page(
        request,
        "harps/look.html",
        title=f"{on.item.name}, on the {found.name}",
        tune_item=on.item,
        part="harps",
        on=on,
        asked=asked,
        found=found,
        sheet=sheet(found.arrangement, WIDE),
        parts=compared(found.arrangement, found.arrangement).parts,
        seen_by=_also(asked.player, asked.voice),
    )


class ComparedAsked(SeenAsked):
    pick: Annotated[list[Word], Field(max_length=40, default_factory=list)]


@router.get("/tunes/{tune}/harps/compare", response_class=HTMLResponse)
def compare(
    request: Request, desk: AtDesk, asked: Annotated[ComparedAsked, Query()], tune: ItemId
) -> HTMLResponse:
    with desk.shelf() as shelf:
        on = ground(shelf, tune, asked.player, asked.voice)
    first, second = _two(on, asked.pick)
    both = (seen(on, first), seen(on, second))
    return page(
        request,
        "harps/compare.html",
        title=f"{on.item.name}: {both[0].name} and {both[1].name}",
        tune_item=on.item,
        part="harps",
        on=on,
        both=both,
        sheets=_sheets(both),
        found=compared(both[0].arrangement, both[1].arrangement),
        too_many=len(asked.pick) not in (0, 2),
        seen_by=_also(asked.player, asked.voice),
    )


def _two(on: Ground, picks: list[str]) -> tuple[str, str]:
    """The two that were picked; what is left out is the tune's own harp, or the easiest others."""
    own = () if on.chosen in picks else (on.chosen,)
    ranked = table(on.session.tune, on.profile, on.voice, on.semitones, (), Asked()).rows
    rest = [row.pick for row in ranked]
    first, second, *_ = dict.fromkeys((*picks, *own, *rest))
    return first, second


def _sheets(both: tuple[Seen, Seen]) -> tuple[Sheet, ...]:
    return tuple(
        sheet(each.arrangement, NARROW, prefix=prefix)
        for each, prefix in zip(both, ("a-", "b-"), strict=True)
    )


@router.get("/tunes/{tune}/harps/valves", response_class=HTMLResponse)
def valves(
    request: Request, desk: AtDesk, asked: Annotated[SeenAsked, Query()], tune: ItemId
) -> HTMLResponse:
    with desk.shelf() as shelf:
        on = ground(shelf, tune, asked.player, asked.voice)
    harp, octaves = picked(asked.harp or on.chosen)
    found = valving(on, harp, octaves)
    both = (found.bare, found.valved)
    return page(
        request,
        "harps/valves.html",
        title=f"{on.item.name}: {signs_in_print(harp.name)} without valves and with them",
        tune_item=on.item,
        part="harps",
        on=on,
        both=both,
        sheets=_sheets(both),
        valves=found,
        found=compared(found.bare.arrangement, found.valved.arrangement),
        seen_by=_also(asked.player, asked.voice),
    )


class UseAsked(SeenAsked):
    """`tune_state`, `choices_state`: the states that the page showed."""

    tune_state: NumberOrNone
    choices_state: NumberOrNone


@router.post(
    "/tunes/{tune}/harps/use",
    response_class=RedirectResponse,
    status_code=303,
)
def use_harp(desk: AtDesk, asked: Annotated[UseAsked, Form()], tune: ItemId) -> Response:
    with desk.shelf() as shelf:
        _use(shelf, asked, tune)
    return RedirectResponse(f"/tunes/{tune}", 303)


def _use(shelf: Shelf, asked: UseAsked, tune: int) -> None:
    on = ground(shelf, tune, asked.player, asked.voice)
    use(shelf, on, asked.harp, Version(tune=asked.tune_state, choices=asked.choices_state))


def _heard(desk: Desk, tune: int, asked: HeardAsked) -> Arrangement:
    with desk.shelf() as shelf:
        on = ground(shelf, tune, asked.player, asked.voice)
    return seen(on, asked.harp).arrangement


@router.get(
    "/tunes/{tune}/harps/sound",
    response_class=Response,
    responses={200: {"content": {"audio/wav": {}}}},
)
def sound(desk: AtDesk, tune: ItemId, asked: Annotated[HeardAsked, Query()]) -> Response:
    heard = wav_on(_heard(desk, tune, asked), asked.speed, asked.count_in)
    return Response(heard, media_type="audio/wav", headers={"cache-control": "no-store"})


@router.get("/tunes/{tune}/harps/times")
def times(desk: AtDesk, tune: ItemId, asked: Annotated[HeardAsked, Query()]) -> TimesView:
    return times_on(_heard(desk, tune, asked), asked.speed, asked.count_in)
