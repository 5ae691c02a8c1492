"""The shelf: search, sets and evenings, what is kept of a tune.

Public: `router`.
"""

from __future__ import annotations

from fastapi import APIRouter

from reedwright.web.shelf.finding import router as finding
from reedwright.web.shelf.planning import router as planning
from reedwright.web.shelf.safety import router as safety
from reedwright.web.shelf.sets import router as sets
from reedwright.web.shelf.tunes import router as tunes

router = APIRouter(tags=["shelf"])
for part in (finding, safety, tunes, sets, planning):  # addresses of words before those of numbers
    router.routes.extend(part.routes)
