"""What the routes of takes say besides pages, and the statuses that they give.

Public: `Begun`, `Refusal`, `REFUSED`, `NOT_THERE`, `Number`.
"""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import Path
from pydantic import BaseModel

Number = Annotated[int, Path(ge=1, le=2**53)]
"""Of a tune or a take, in an address."""


class Begun(BaseModel):
    """A job was begun. `go`: the page that shows what comes of it; "" for the job's own."""

    job: str
    go: str


class Refusal(BaseModel):
    kind: str
    message: str


_NOT = {"model": Refusal}
NOT_THERE: dict[int | str, dict[str, Any]] = {404: _NOT, 422: _NOT}
REFUSED: dict[int | str, dict[str, Any]] = NOT_THERE | {400: _NOT, 413: _NOT, 429: _NOT}
