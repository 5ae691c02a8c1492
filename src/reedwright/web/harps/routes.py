"""Which harp a tune lies best on: the ranked table, and harps side by side.

Public: `router`.
"""

from __future__ import annotations

from fastapi import APIRouter

router = APIRouter(tags=["harps"])
