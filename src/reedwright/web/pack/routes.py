"""The pack: settings with a live preview of its page, and making it.

Public: `router`.
"""

from __future__ import annotations

from fastapi import APIRouter

router = APIRouter(tags=["pack"])
