"""The shelf: search, sets and evenings, what is kept of a tune.

Public: `router`.
"""

from __future__ import annotations

from fastapi import APIRouter

router = APIRouter(tags=["shelf"])
