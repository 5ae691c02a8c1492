"""Books: their plan, a live preview of pages, and making them.

Public: `router`.
"""

from __future__ import annotations

from fastapi import APIRouter

router = APIRouter(tags=["book"])
