"""A refusal by a guard: plain, short, and nothing of what was asked in it.

Public: `refuse`.
"""

from __future__ import annotations

from html import escape

from starlette.datastructures import Headers
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.types import Receive, Scope, Send
from starlette.websockets import WebSocketClose

_POLICY_VIOLATION = 1008  # RFC 6455, 7.4.1


async def refuse(
    scope: Scope, receive: Receive, send: Send, status: int, kind: str, message: str
) -> None:
    """Answer in place of the app: a page for who reads pages, JSON for scripts; a line is closed
    before it is opened."""
    if scope["type"] == "websocket":
        await WebSocketClose(_POLICY_VIOLATION, message)(scope, receive, send)
        return
    answer: Response
    if "text/html" in Headers(scope=scope).get("accept", ""):
        answer = HTMLResponse(
            "<!doctype html><html lang='en'><head><meta charset='utf-8'>"
            "<meta name='viewport' content='width=device-width, initial-scale=1'>"
            "<title>Reedwright</title></head><body><main><h1>Reedwright</h1>"
            f"<p>{escape(message)}</p></main></body></html>",
            status,
        )
    else:
        answer = JSONResponse({"kind": kind, "message": message}, status)
    answer.headers["connection"] = "close"  # what is still being sent is not read
    await answer(scope, receive, send)
