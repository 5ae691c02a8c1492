"""All guards around the app, in their order.

Public: `add_guard`.
"""

from __future__ import annotations

from fastapi import FastAPI

from reedwright.web.guard.policy import PolicyHeaders
from reedwright.web.settings import Settings


def add_guard(app: FastAPI, settings: Settings) -> None:
    app.add_middleware(PolicyHeaders)
