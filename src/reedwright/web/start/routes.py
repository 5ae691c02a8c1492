"""The first page, and its demo tune; `bringing` takes in what users bring.

Public: `router`.
"""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from markupsafe import Markup

from reedwright.shelf.belongings.lists import lists_on
from reedwright.shelf.finding.lately import latest_tunes
from reedwright.shelf.model import Kind
from reedwright.web.desk import AtDesk
from reedwright.web.music.drawing import NARROW
from reedwright.web.music.sounding import times
from reedwright.web.music.told import Speed
from reedwright.web.sending import sent
from reedwright.web.start import demo
from reedwright.web.start.bringing import router as bringing
from reedwright.web.templating import page

router = APIRouter(tags=["start"])
router.routes.extend(bringing.routes)

MOST_LATELY = 8  # tunes on the first page
MOST_LISTS = 8

_SAME_AS_LONG_AS_THE_SERVER = {"cache-control": "private, max-age=300"}


@router.get("/", response_class=HTMLResponse)
def start(request: Request, desk: AtDesk) -> HTMLResponse:
    with desk.shelf() as shelf:
        counts = shelf.counts()
        lately = latest_tunes(shelf, MOST_LATELY)
        lists = lists_on(shelf)[-MOST_LISTS:][::-1]
    values: dict[str, Any] = {"drawn": None}
    if not counts.get(Kind.TUNE):
        drawn = demo.demo_sheet()
        values = {
            "drawn": drawn,
            "systems": [Markup(each) for each in drawn.systems],
            "chart": Markup(drawn.chart),
            "harp": demo.demo_arrangement().harp.name,
        }
    return page(
        request,
        "start/start.html",
        title="Reedwright",
        here="start",
        counts={kind.value: count for kind, count in counts.items()},
        lately=lately,
        lists=lists,
        jobs=[job for job in desk.jobs.all() if not job.over],
        **values,
    )


@router.get("/start/demo/music", response_class=HTMLResponse)
def demo_music() -> HTMLResponse:
    """The demo tune's systems as a narrow page shows them, as a piece of the page."""
    drawn = demo.demo_sheet(NARROW)
    return HTMLResponse("".join(drawn.systems), headers=_SAME_AS_LONG_AS_THE_SERVER)


@router.get("/start/demo/sound", response_class=Response)
def sound(speed: Speed = 1.0, count_in: bool = False) -> Response:
    return Response(
        demo.demo_sound(round(speed, 2), count_in),
        media_type="audio/wav",
        headers=_SAME_AS_LONG_AS_THE_SERVER,
    )


@router.get("/start/demo/times")
def demo_times(speed: Speed = 1.0, count_in: bool = False) -> dict[str, Any]:
    return times(demo.demo_timeline(round(speed, 2), count_in))._asdict()


@router.get("/start/demo/page.pdf", response_class=Response)
def demo_pdf() -> Response:
    return sent(demo.demo_page(), "the-reedmakers-latch.pdf", look=True)


@router.post("/start/demo/open", response_class=RedirectResponse, status_code=303)
def open_demo(desk: AtDesk) -> RedirectResponse:
    """Put the demo tune on the shelf and go to its page."""
    with desk.shelf() as shelf:
        item = demo.put_on_shelf(shelf)
    return RedirectResponse(f"/tunes/{item.id}", 303)
