"""What the routes of takes say besides pages.

Public: `Begun`, `Number`.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import Path
from pydantic import BaseModel

Number = Annotated[int, Path(ge=1, le=2**53)]
"""Of a tune or a take, in an address."""


class Begun(BaseModel):
    """A job was begun. `go`: the page that shows what comes of it; "" for the job's own."""

    job: str
    go: str
