"""How much is let in: bodies are counted as they come, whatever they say of their length.

What they say of their kind is not believed either: only the routes that take files take much.

Public: `Measured`, `UPLOADS`.
"""

from __future__ import annotations

import re

from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from reedwright.web.guard.answers import refuse
from reedwright.web.settings import MEGABYTE, Settings

UPLOADS = re.compile(r"/import|/takes/unknown|/tunes/\d+/takes|/bench/recordings")
"""The paths of routes that take files."""


class Measured:
    """413 (RFC 9110, 15.5.14) for bodies above the limit: that of uploads for routes that take
    files, that of everything else for the rest."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self._app = app
        self._upload, self._body = settings.most_upload, settings.most_body

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        most = self._upload if UPLOADS.fullmatch(scope["path"]) else self._body
        message = f"That is too much at once: at most {most / MEGABYTE:g} MB are taken."
        length = headers.get("content-length", "0")
        if not length.isdecimal():
            await refuse(scope, receive, send, 400, "refused", "That length is no number.")
            return
        if int(length) > most:
            await refuse(scope, receive, send, 413, "too-much", message)
            return
        taken = 0

        async def counted() -> Message:
            nonlocal taken
            heard = await receive()
            taken += len(heard.get("body", b""))
            if taken > most:
                raise HTTPException(413, message)
            return heard

        await self._app(scope, counted, send)
