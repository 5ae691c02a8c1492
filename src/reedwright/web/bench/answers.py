"""What the bench's addresses answer besides a page, told in the app's own description of itself.

Public: `Refused`, `PAGE`, `OF_THE_SHELF`, `FORM`, `PAPER`, `WORK`,
`POSTED`.
"""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel
from starlette.responses import RedirectResponse

Answers = dict[int | str, dict[str, Any]]


class Refused(BaseModel):
    """What could not be done: its kind in a word, and a sentence."""

    kind: str
    message: str


_SAID = {"application/json": {"schema": Refused.model_json_schema()}}
_PAGE_OR_SAID = {"text/html": {"schema": {"type": "string"}}, **_SAID}


def _answer(description: str) -> dict[str, Any]:
    return {"description": description, "content": _PAGE_OR_SAID}


_NOT_THERE = _answer("It is not on the shelf, or there is no such work.")
_WRONG = _answer("The page again with what is wrong beside its field, or a sentence.")

PAGE: Answers = {422: _WRONG}
OF_THE_SHELF: Answers = PAGE | {404: _NOT_THERE}
FORM: Answers = OF_THE_SHELF | {409: _answer("It was changed elsewhere meanwhile.")}
PAPER: Answers = {
    200: {"description": "The PDF.", "content": {"application/pdf": {}}},
    404: {"description": "It is not on the shelf.", "content": _SAID},
    422: {"description": "What can't be printed, in a sentence.", "content": _SAID},
}
WORK: Answers = {
    404: {"description": "The harp is not on the shelf.", "content": _SAID},
    413: {"description": "The recording is too large.", "content": _SAID},
    422: {"description": "What is wrong with what was asked.", "content": _SAID},
    429: {"description": "Too much work is waiting.", "content": _SAID},
}
POSTED: dict[str, Any] = {
    "response_class": RedirectResponse,
    "status_code": 303,
    "responses": FORM,
}
"""For a route that a form is sent to: a page follows, or the form's own with what is wrong."""
