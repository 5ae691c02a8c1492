"""From where a request comes: nothing that another site's page asks for is done or shown.

What changes something, and every WebSocket, must come from a page of ours by its Origin (RFC 6454;
the Fetch standard) and by Sec-Fetch-Site (W3C Fetch Metadata). Reading is refused to other
sites' pages, too, but for following a link to a page. Programs that are no browsers send neither,
and are let through: nobody's page can make them ask.

Public: `OwnPagesOnly`.
"""

from __future__ import annotations

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from reedwright.web.guard.answers import refuse
from reedwright.web.guard.hosts import place_of

_READING = ("GET", "HEAD", "OPTIONS")
_OURS = ("same-origin", "none")  # none: typed in, or from a bookmark


class OwnPagesOnly:
    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan" or _ours(scope):
            await self._app(scope, receive, send)
            return
        await refuse(
            scope, receive, send, 403, "refused",
            "That was asked for by another site's page, and is not done.",
        )  # fmt: skip


def _ours(scope: Scope) -> bool:
    headers = Headers(scope=scope)
    site = headers.get("sec-fetch-site")
    origins = headers.getlist("origin")
    if scope["type"] == "websocket":
        return site in (None, "same-origin") and len(origins) == 1 and _same(origins[0], headers)
    if scope["method"] not in _READING:
        return site in (None, *_OURS) and all(_same(origin, headers) for origin in origins)
    return site in (None, *_OURS) or _follows_a_link(headers, scope)


def _same(origin: str, headers: Headers) -> bool:
    scheme, separator, rest = origin.partition("://")
    if not separator or scheme not in ("http", "https"):
        return False
    there = place_of(rest, scheme)
    return there is not None and there == place_of(headers.get("host", ""), scheme)


def _follows_a_link(headers: Headers, scope: Scope) -> bool:
    """To a whole page in a window of its own."""
    return (
        scope["method"] == "GET"
        and headers.get("sec-fetch-mode") == "navigate"
        and headers.get("sec-fetch-dest") == "document"
    )
