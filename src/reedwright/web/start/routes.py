"""The first page, and bringing in one's own tunes.

Public: `router`.
"""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from reedwright.web.templating import page

router = APIRouter(tags=["start"])


@router.get("/", response_class=HTMLResponse)
def start(request: Request) -> HTMLResponse:
    return page(request, "start/start.html", title="Reedwright", here="start")
