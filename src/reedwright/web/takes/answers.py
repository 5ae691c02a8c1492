"""What the routes of takes say besides pages.

Public: `Begun`.
"""

from __future__ import annotations

from pydantic import BaseModel


class Begun(BaseModel):
    """A job was begun. `go`: the page that shows what comes of it; "" for the job's own."""

    job: str
    go: str
