"""Takes: a recording heard against its tune; report, cuts, practice tracks.

Public: `router`.
"""

from __future__ import annotations

from fastapi import APIRouter

router = APIRouter(tags=["takes"])
