"""Running the app: a server on this machine, and a browser shown its first page.

Public: `serve`, `PortTaken`.
"""

from __future__ import annotations

import asyncio
import logging
import secrets
import signal
import socket
import threading
import time
import webbrowser
from collections.abc import Callable
from dataclasses import replace

import uvicorn

from reedwright.errors import ReedwrightError
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.web.app import create_app
from reedwright.web.settings import PORT, Settings

TRIED = 20  # ports after the usual one, where it is taken
PATIENCE = 1  # second that open pages have, as the server ends
LAST = 10  # seconds after which it is ended whatever goes on
LONGEST_HEAD = 64 * 1024  # bytes of a request's address and headers
LONGEST_MESSAGE = 2**20  # bytes, of a WebSocket
_ANY = ("0.0.0.0", "::")


class PortTaken(ReedwrightError):
    """Nothing can listen at that address and port."""


def serve(settings: Settings, port: int | None, browser: bool, tell: Callable[[str], None]) -> None:
    """Serve until Ctrl-C. `port`: None for the usual one or the next that is free, 0 for any.

    Where others than this machine can reach the server, a token is made and told. `tell` says
    to the user what they need to know. Raises `PortTaken`, and as opening the shelf does.
    """
    open_shelf(settings.shelf).close()  # what is wrong with it is told here, and not on a page
    listening = _listening(settings.host, port)
    settings = replace(settings, port=listening.getsockname()[1])
    if not settings.local and settings.token is None:
        settings = replace(settings, token=secrets.token_urlsafe(24))
    app = create_app(settings)
    config = uvicorn.Config(
        app,
        http="h11",
        h11_max_incomplete_event_size=LONGEST_HEAD,
        log_level="error",
        access_log=False,
        server_header=False,
        date_header=False,
        timeout_graceful_shutdown=PATIENCE,
        ws_max_size=LONGEST_MESSAGE,
    )
    server = _Server(config, app.state.desk.jobs.close)
    address = _address(settings)
    if not settings.local:
        tell(
            "Others on the network can reach this: whoever has the address below can see and "
            "change all that is on the shelf, and it goes over the network for all to read. Do so "
            "only in a network whose people you trust."
        )
    if port is None and settings.port != PORT:
        tell(f"Port {PORT} is taken; this one is {settings.port}.")
    tell(f"Reedwright is at {address} (Ctrl-C ends it).")
    threading.Thread(target=_readied, daemon=True).start()
    if browser:
        threading.Thread(target=_show, args=(server, address), daemon=True).start()
    _until_ended(server, listening)


def _readied() -> None:
    """Load what draws and arranges, about a second's work, before the first page asks for it."""
    from reedwright.web.start.demo import demo_sheet

    demo_sheet()


class _Server(uvicorn.Server):
    """Stops the jobs before it waits for open pages, whose streams end with the jobs."""

    def __init__(self, config: uvicorn.Config, stop: Callable[[], None]) -> None:
        super().__init__(config)
        self._stop = stop

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        # What is cut short now is no fault, and not told as one.
        logging.getLogger("uvicorn.error").setLevel(logging.CRITICAL)
        stopped = asyncio.create_task(asyncio.to_thread(self._stop))
        await super().shutdown(sockets)
        await stopped


def _until_ended(server: _Server, listening: socket.socket) -> None:
    """In a thread, since what computes for pages then does so in threads that do not hold the end:
    all that is kept is kept whole, whenever it is cut short."""

    def ended(number: int, frame: object) -> None:
        raise KeyboardInterrupt

    signal.signal(signal.SIGTERM, ended)  # by the system, with the same word and order
    serving = threading.Thread(target=server.run, args=([listening],), daemon=True)
    serving.start()
    try:
        while serving.is_alive():
            serving.join(1)
    finally:
        server.should_exit = True
        serving.join(LAST)


def _listening(host: str, port: int | None) -> socket.socket:
    tries = range(PORT, PORT + TRIED) if port is None else (port,)
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    trouble = ""
    for number in tries:
        listening = socket.socket(family)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((host, number))
            listening.listen()  # on some systems only this tells that another one listens
        except (OSError, OverflowError) as error:
            listening.close()
            trouble = getattr(error, "strerror", None) or str(error)
            continue
        return listening
    asked = f"port {port}" if port is not None else f"ports {PORT} to {PORT + TRIED - 1}"
    raise PortTaken(f"Can't listen at {host}, {asked} ({trouble}). Name another with --port.")


def _address(settings: Settings) -> str:
    """What to type into a browser."""
    host = settings.host
    if host in _ANY:
        host = settings.hosts[0] if settings.hosts else _own_address()
    place = f"[{host}]" if ":" in host else host
    token = f"?token={settings.token}" if settings.token else ""
    return f"http://{place}:{settings.port}/{token}"


def _own_address() -> str:
    """This machine's address in its network; nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(("192.0.2.1", 9))  # an address for documentation (RFC 5737)
            return str(asking.getsockname()[0])
        except OSError:
            return socket.gethostname()


def _show(server: object, address: str) -> None:
    """Open the browser once the server answers."""
    while not getattr(server, "started", False):
        time.sleep(0.05)
    webbrowser.open(address)
