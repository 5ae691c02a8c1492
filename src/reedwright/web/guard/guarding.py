"""All guards around the app, in their order.

Public: `add_guard`.
"""

from __future__ import annotations

from fastapi import FastAPI

from reedwright.web.guard.hosts import KnownHosts
from reedwright.web.guard.origins import OwnPagesOnly
from reedwright.web.guard.policy import PolicyHeaders
from reedwright.web.guard.sizes import Measured
from reedwright.web.guard.token import TokenAsked
from reedwright.web.settings import Settings


def add_guard(app: FastAPI, settings: Settings) -> None:
    """The one added last is asked first: every answer, a refusal too, carries the policy."""
    app.add_middleware(Measured, settings=settings)
    if settings.token is not None:
        app.add_middleware(TokenAsked, token=settings.token)
    app.add_middleware(OwnPagesOnly)
    app.add_middleware(KnownHosts, settings=settings)
    app.add_middleware(PolicyHeaders)
