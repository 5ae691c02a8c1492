"""Pages from templates. Everything put into one is escaped, but for `Markup` of our own drawings.

Times are shown as they are on this machine's clock, by two filters: `day` ("3 November 2026") and
`moment` ("3 November 2026, 22:55").

Public: `page`, `fragment`, `for_script`, `day`, `moment`.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import jinja2
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse

from reedwright import __version__
from reedwright.web.addresses import address_of

_HERE = Path(__file__).parent


def day(at: datetime) -> str:
    """The date of a time on this machine's clock; a time without a zone counts as being on it."""
    here = at.astimezone()
    return f"{here.day} {here:%B %Y}"  # %-d is not to be had everywhere


def moment(at: datetime) -> str:
    """The date and the time of day, hours and minutes, on this machine's clock."""
    return f"{day(at)}, {at.astimezone():%H:%M}"


def _environment() -> jinja2.Environment:
    found = jinja2.Environment(
        loader=jinja2.FileSystemLoader(_HERE / "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.globals["version"] = __version__
    found.filters["address"] = address_of
    found.filters["day"] = day
    found.filters["moment"] = moment
    return found


_ENVIRONMENT = _environment()


def page(request: Request, template: str, status: int = 200, **values: Any) -> HTMLResponse:
    """A whole page; the template extends `base.html`, which needs `title`.

    `here` (a word of base.html's navigation) may be given, and says which part it belongs to;
    a tune's pages, which give tunenav.html its `part`, are of the shelf.
    """
    values.setdefault("here", "shelf" if "part" in values else "")
    values["path"] = request.url.path
    return HTMLResponse(_ENVIRONMENT.get_template(template).render(**values), status)


def for_script(json: str) -> Markup:
    """JSON that can stand inside a script element: no text in it ends that."""
    for sign in "<>&":
        json = json.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(json)


def fragment(template: str, **values: Any) -> str:
    """A piece of a page, as HTML."""
    return _ENVIRONMENT.get_template(template).render(**values)
