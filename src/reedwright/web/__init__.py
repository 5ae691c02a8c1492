"""The local web app: all of Reedwright on browser pages, served from this machine.

A door like `cli`, over the same functions: routes read what the browser sends, call the rooms, and
draw pages from templates. `app` puts the parts together, one folder a part (`tune`, `harps`,
`pack`, ...); `guard` keeps strangers out; `jobs` does what takes long in processes of its own;
`desk` is what all parts share; `music` is a tune as a page shows and sounds it.

Public: `create_app`, `Settings`.
"""

from reedwright.web.settings import Settings

__all__ = ["Settings", "create_app"]


def __getattr__(name: str) -> object:
    if name == "create_app":  # FastAPI is imported where it is used
        from reedwright.web.app import create_app

        return create_app
    raise AttributeError(name)
