"""What some of the bench's addresses answer, told in the app's own description of itself.

Public: `PAPER`, `POSTED`.
"""

from __future__ import annotations

from typing import Any

from starlette.responses import RedirectResponse

PAPER: dict[int | str, dict[str, Any]] = {
    200: {"description": "The PDF.", "content": {"application/pdf": {}}}
}
POSTED: dict[str, Any] = {"response_class": RedirectResponse, "status_code": 303}
"""For a route that a form is sent to: a page follows, or the form's own with what is wrong."""
