"""What all parts of the app share: its settings, the shelf, the jobs.

Public: `Desk`, `AtDesk`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends
from starlette.requests import HTTPConnection

from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.web.jobs.keeping import Jobs
from reedwright.web.settings import Settings


@dataclass(frozen=True, slots=True)
class Desk:
    """One for each running app."""

    settings: Settings
    jobs: Jobs

    def shelf(self) -> Shelf:
        """The shelf, open for the thread that asks: `with desk.shelf() as shelf:`.

        A shelf serves one thread, and opening one takes half a millisecond; so every request
        opens its own. Raises as `open_shelf` does.
        """
        return open_shelf(self.settings.shelf)


def _desk(connection: HTTPConnection) -> Desk:
    desk: Desk = connection.app.state.desk
    return desk


AtDesk = Annotated[Desk, Depends(_desk)]
"""For a route's arguments: `def page(desk: AtDesk)`."""
