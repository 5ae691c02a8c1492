"""The app put together: guard, static files, and the parts.

Public: `create_app`.
"""

from __future__ import annotations

import secrets
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from fastapi import FastAPI
from starlette.staticfiles import StaticFiles

import reedwright.page
from reedwright import __version__
from reedwright.web.bench.routes import router as bench
from reedwright.web.book.routes import router as book
from reedwright.web.described import describe
from reedwright.web.desk import Desk
from reedwright.web.guard.guarding import add_guard
from reedwright.web.harps.routes import router as harps
from reedwright.web.jobs.keeping import Jobs
from reedwright.web.jobs.routes import router as jobs
from reedwright.web.pack.routes import router as pack
from reedwright.web.settings import Settings
from reedwright.web.shelf.routes import router as shelf
from reedwright.web.start.routes import router as start
from reedwright.web.takes.routes import router as takes
from reedwright.web.troubles import add_handlers
from reedwright.web.tune.routes import router as tune

PARTS = (start, tune, harps, pack, takes, book, bench, shelf, jobs)
_PAGE = Path(reedwright.page.__file__).parent


def create_app(settings: Settings | None = None) -> FastAPI:
    """An app of its own: several may run in one process, such as in tests."""
    wanted = settings or Settings()
    desk = Desk(wanted, Jobs(wanted.most_jobs, wanted.most_waiting))

    @asynccontextmanager
    async def living(app: FastAPI) -> AsyncIterator[None]:
        yield
        desk.jobs.close()

    app = FastAPI(
        title="Reedwright",
        version=__version__,
        docs_url=None,
        redoc_url=None,
        lifespan=living,
    )
    app.state.desk = desk
    running = secrets.token_hex(8)
    add_handlers(app)
    add_guard(app, wanted)
    app.mount("/static", StaticFiles(directory=Path(__file__).parent / "static"), name="static")
    app.mount("/fonts", StaticFiles(directory=_PAGE / "webfonts"), name="fonts")
    app.mount("/tabfont", StaticFiles(directory=_PAGE / "fonts"), name="tabfont")
    for part in PARTS:
        app.include_router(part)

    @app.get("/touch")
    async def touch() -> dict[str, str]:
        """Whether the server is there, and whether it is the same one as before."""
        return {"version": __version__, "running": running}

    describe(app, token=wanted.token is not None)
    return app
