"""The token that a browser shows where others on the network can reach the server.

It comes once in the address (`?token=...`) and stays as a cookie that no script can read and no
other site's page can send (RFC 6265bis: HttpOnly, SameSite=Strict).

Public: `TokenAsked`, `COOKIE`.
"""

from __future__ import annotations

import asyncio
import secrets
from urllib.parse import parse_qsl, urlencode

from starlette.requests import HTTPConnection
from starlette.responses import RedirectResponse
from starlette.types import ASGIApp, Receive, Scope, Send

from reedwright.web.guard.answers import refuse

COOKIE = "reedwright"
ASKED_FOR = "token"
KEPT = 90 * 24 * 3600  # seconds that a browser keeps it
PAUSE = 0.5  # seconds before a wrong token is answered


class TokenAsked:
    def __init__(self, app: ASGIApp, token: str) -> None:
        self._app = app
        self._token = token

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        asked = HTTPConnection(scope)
        shown = asked.query_params.get(ASKED_FOR)
        if self._fits(asked.cookies.get(COOKIE)) and shown is None:
            await self._app(scope, receive, send)
        elif scope["type"] == "http" and scope["method"] == "GET" and self._fits(shown):
            await self._let_in(scope, receive, send)
        else:
            if shown is not None:
                await asyncio.sleep(PAUSE)
            await refuse(
                scope, receive, send, 401, "refused",
                "Open Reedwright by the whole address that it told when it was started, with its "
                "token.",
            )  # fmt: skip

    def _fits(self, shown: str | None) -> bool:
        return shown is not None and secrets.compare_digest(shown.encode(), self._token.encode())

    async def _let_in(self, scope: Scope, receive: Receive, send: Send) -> None:
        """On to the same page, without the token in its address."""
        asked = parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)
        rest = urlencode([(name, value) for name, value in asked if name != ASKED_FOR])
        # One slash alone at its beginning: two would be another machine's address.
        path = "/" + scope.get("raw_path", b"/").decode("latin-1").lstrip("/\\")
        answer = RedirectResponse(path + (f"?{rest}" if rest else ""), 303)
        answer.set_cookie(COOKIE, self._token, max_age=KEPT, httponly=True, samesite="strict")
        await answer(scope, receive, send)
