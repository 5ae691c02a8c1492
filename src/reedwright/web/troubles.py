"""What goes wrong, as a page or as JSON: one clear sentence, and never a traceback.

JSON goes to whoever asks for it or sent it; its shape is a `Trouble`.

Public: `add_handlers`, `told`, `Trouble`.
"""

from __future__ import annotations

import logging

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from reedwright.errors import ReedwrightError
from reedwright.shelf.keeping.troubles import ShelfBusy
from reedwright.shelf.model import ChangedMeanwhile, NotOnShelf
from reedwright.web.guard.policy import HEADERS
from reedwright.web.jobs.model import NoSuchJob, TooManyJobs
from reedwright.web.templating import page


class Trouble(BaseModel):
    """What went wrong: its kind in a word, and a sentence."""

    kind: str
    message: str


_LOG = logging.getLogger("reedwright.web")

_STATUS: tuple[tuple[type[ReedwrightError], int, str], ...] = (
    (ChangedMeanwhile, 409, "changed-meanwhile"),
    (NotOnShelf, 404, "not-there"),
    (ShelfBusy, 503, "busy"),
    (NoSuchJob, 404, "not-there"),
    (TooManyJobs, 429, "too-many"),
    (ReedwrightError, 422, "not-possible"),
)
"""The first that fits."""


def add_handlers(app: FastAPI) -> None:
    app.add_exception_handler(ReedwrightError, _ours)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(RequestValidationError, _not_understood)
    app.add_exception_handler(Exception, _unforeseen)


def told(request: Request, status: int, kind: str, message: str) -> Response:
    """The error as the asker reads best."""
    wants = request.headers.get("accept", "")
    if "text/html" in wants and "hx-request" not in request.headers:
        return page(request, "trouble.html", status, title="That did not work", message=message)
    return JSONResponse(Trouble(kind=kind, message=message).model_dump(), status)


def _ours(request: Request, error: Exception) -> Response:
    for kind, status, name in _STATUS:
        if isinstance(error, kind):
            return told(request, status, name, str(error))
    raise error


def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    words = {404: "There is no such page.", 405: "This page can't be asked for in that way."}
    found = told(request, error.status_code, "refused", words.get(error.status_code, error.detail))
    found.headers.update(error.headers or {})
    return found


def _not_understood(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    first = error.errors()[0]
    if first["loc"][0] == "path":
        return told(request, 422, "not-understood", "There is no such page.")
    where = " ".join(str(part) for part in first["loc"][1:])
    return told(request, 422, "not-understood", f"Not understood: {where}: {first['msg']}.")


def _unforeseen(request: Request, error: Exception) -> Response:
    _LOG.exception("While serving %s", request.url.path, exc_info=error)
    answer = told(
        request,
        500,
        "fault",
        "Something went wrong in Reedwright itself. What was saved is safe; the terminal where it "
        "was started says more.",
    )
    answer.headers.update(HEADERS)  # this handler stands outside of all guards
    return answer
