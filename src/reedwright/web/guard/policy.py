"""What a page of ours may do, told to the browser with every answer.

No script or style stands inside a page, nothing comes from elsewhere, no other page may frame
ours. (Content Security Policy Level 3, W3C; Fetch Metadata and Permissions Policy, W3C.)

Public: `PolicyHeaders`, `HEADERS`.
"""

from __future__ import annotations

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "media-src 'self' blob:",
        "worker-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    )
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "microphone=(self), screen-wake-lock=(self), camera=(), geolocation=()",
}

_KEPT = ("/static/", "/fonts/", "/tabfont/")  # asked for again each time, by their ETag


class PolicyHeaders:
    """Every answer carries `HEADERS`; what shows a user's own things is not kept by the browser,
    unless its route says otherwise."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                kept = scope["path"].startswith(_KEPT)
                headers.setdefault("cache-control", "no-cache" if kept else "no-store")
            await send(message)

        await self._app(scope, receive, sent)
