"""Running the app: a server on this machine, and a browser shown its first page.

Public: `serve`.
"""

from __future__ import annotations

import threading
import webbrowser
from collections.abc import Callable

from reedwright.web.settings import Settings


def serve(settings: Settings, browser: bool, tell: Callable[[str], None]) -> None:
    """Serve until Ctrl-C."""
    import uvicorn

    from reedwright.web.app import create_app

    address = f"http://{settings.host}:{settings.port}/"
    config = uvicorn.Config(
        create_app(settings),
        host=settings.host,
        port=settings.port,
        log_level="warning",
        server_header=False,
        timeout_graceful_shutdown=2,
    )
    tell(f"Reedwright is at {address} (Ctrl-C ends it).")
    if browser:
        threading.Timer(0.5, webbrowser.open, [address]).start()
    uvicorn.Server(config).run()
