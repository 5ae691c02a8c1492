"""How the app is served: where things lie, who may reach it, how much is let in.

Public: `Settings`, `MEGABYTE`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

MEGABYTE = 1_000_000  # bytes
LOOPBACK = "127.0.0.1"
PORT = 8420


def made_folder() -> Path:
    """Where packs and books go that are made in the browser, where the user does not say."""
    import platformdirs

    return Path(platformdirs.user_documents_path()) / "Reedwright"


def usual_shelf() -> Path:
    from reedwright.shelf.keeping.opening import shelf_folder

    return shelf_folder()


@dataclass(frozen=True, slots=True)
class Settings:
    """`shelf`: the shelf's folder, made when first needed. `made`: where packs, books and exports
    are put. `host`, `port`: where the server listens; `hosts`: names (and ports, after a colon) by
    which a browser may call it besides the loopback's. `token`: what a browser must show once,
    where others on the network can reach the server; None where only this machine can.
    """

    shelf: Path = field(default_factory=usual_shelf)
    made: Path = field(default_factory=made_folder)
    host: str = LOOPBACK
    port: int = PORT
    hosts: tuple[str, ...] = ()
    token: str | None = None
    most_upload: int = 400 * MEGABYTE  # a recording of an hour and more
    most_body: int = 2 * MEGABYTE  # of everything that is not an upload
    most_jobs: int = 2  # at work at once
    most_waiting: int = 8

    @property
    def local(self) -> bool:
        """Whether only this machine can reach the server."""
        return self.host in (LOOPBACK, "::1", "localhost")
