"""The web app for tests: in this process, and as a server that a browser can reach."""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import uvicorn
from fastapi.testclient import TestClient

from reedwright.shelf.facts.tunes import add_tune
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.model import Item
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.web.app import create_app
from reedwright.web.settings import Settings

# Made up for the tests.
KETTLE = """X:1
T:The Kettle on the Landing
R:reel
M:4/4
L:1/8
K:G
|:G2BG dGBG|c2ec BGAF|G2BG dGBd|1 cAFA G4:|2 cAFA G3d|]
|:g2fg edBd|e2de gedB|G2BG dGBd|cAFA G4:|
"""


@dataclass(frozen=True)
class House:
    """A running app: `url` has no slash at its end; `settings` name its shelf's folder."""

    url: str
    settings: Settings

    def shelve(self, text: str = KETTLE) -> Item:
        """Put an ABC tune on the shelf."""
        (tune,) = read_abc(text)
        assert isinstance(tune, Tune)
        with open_shelf(self.settings.shelf) as shelf:
            return add_tune(shelf, tune)


def settings_in(folder: Path, **changes: object) -> Settings:
    return Settings(shelf=folder / "shelf", made=folder / "made", **changes)  # type: ignore[arg-type]


@contextlib.contextmanager
def asked(folder: Path, **changes: object) -> Iterator[tuple[TestClient, House]]:
    """The app without a network, and its house."""
    settings = settings_in(folder, **changes)
    url = "http://127.0.0.1:8420"
    with TestClient(create_app(settings), base_url=url) as client:
        yield client, House(url, settings)


@contextlib.contextmanager
def served(folder: Path, **changes: object) -> Iterator[House]:
    """A real server on a free port, in a thread of this process."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    settings = settings_in(folder, port=port, **changes)
    config = uvicorn.Config(
        create_app(settings), host=settings.host, port=port, log_level="warning", lifespan="on"
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        assert thread.is_alive(), "the server did not start"
        time.sleep(0.01)
    try:
        yield House(f"http://127.0.0.1:{port}", settings)
    finally:
        server.should_exit = True
        thread.join(10)
