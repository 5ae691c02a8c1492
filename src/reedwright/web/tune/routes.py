"""The tune page: editing, playing, choosing note by note; and the music stand.

Public: `router`.
"""

from __future__ import annotations

from fastapi import APIRouter

router = APIRouter(tags=["tune"])
