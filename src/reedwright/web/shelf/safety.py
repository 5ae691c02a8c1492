"""Backup, export and check, asked for on a page of their own.

Public: `router`.
"""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from reedwright.shelf.model import Kind
from reedwright.web.desk import AtDesk
from reedwright.web.jobs.model import Work
from reedwright.web.shelf.saving import Saving, back_up_work, check_work, export_work
from reedwright.web.templating import page

router = APIRouter(tags=["shelf"])

PAGE = "/shelf/safety"
KINDS = ("shelf backup", "shelf export", "shelf check")


@router.get(PAGE, response_class=HTMLResponse)
def safety(request: Request, desk: AtDesk) -> HTMLResponse:
    with desk.shelf() as shelf:
        counts = shelf.counts()
    return page(
        request,
        "shelf/safety.html",
        title="Backup",
        here="shelf",
        counts=[(count, _word(kind, count)) for kind, count in counts.items()],
        jobs=[job for job in desk.jobs.all(page=PAGE) if job.kind in KINDS],
    )


def _word(kind: Kind, count: int) -> str:
    return kind.value if count == 1 else f"{kind.value}s"


@router.post(f"{PAGE}/backup", response_class=RedirectResponse, status_code=303)
def backup(desk: AtDesk) -> RedirectResponse:
    return _begun(desk, "shelf backup", "Backup of the shelf", back_up_work)


@router.post(f"{PAGE}/export", response_class=RedirectResponse, status_code=303)
def export(desk: AtDesk) -> RedirectResponse:
    return _begun(desk, "shelf export", "The shelf as plain files", export_work)


@router.post(f"{PAGE}/check", response_class=RedirectResponse, status_code=303)
def check(desk: AtDesk) -> RedirectResponse:
    return _begun(desk, "shelf check", "Check of the shelf", check_work)


def _begun(desk: AtDesk, kind: str, title: str, work: Work) -> RedirectResponse:
    desk.shelf().close()  # so that there is one, however empty
    desk.jobs.begin(kind, title, PAGE, work, Saving(desk.settings.shelf, desk.settings.made))
    return RedirectResponse(PAGE, 303)
