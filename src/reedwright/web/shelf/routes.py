"""The shelf: search, sets and evenings, what is kept of a tune.

Public: `router`.
"""

from __future__ import annotations

from fastapi import APIRouter

from reedwright.web.shelf.finding import router as finding

router = APIRouter(tags=["shelf"])
router.include_router(finding)
