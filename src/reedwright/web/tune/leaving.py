"""A tune taken out of the app: its page as PDF, its text as ABC.

Public: `page_pdf`, `tune_abc`.
"""

from __future__ import annotations

from urllib.parse import quote

from starlette.responses import Response

from reedwright.shelf.facts.reading import text_alone
from reedwright.tab.choices.model import ChoicesError
from reedwright.web.music.standing import Standing


def page_pdf(standing: Standing) -> Response:
    """The lesson page, to be looked at in the browser. Raises `ReedwrightError` where the tune
    cannot be set."""
    from reedwright.page.lesson import lesson_pdf

    if standing.arrangement is None or standing.stale:
        raise ChoicesError(standing.trouble or "The text has to be mended before it is printed.")
    pdf = lesson_pdf(standing.arrangement)
    return _file(pdf, "application/pdf", "inline", f"{standing.looked.item.name}.pdf")


def tune_abc(standing: Standing) -> Response:
    """The text to the letter, with the fields of its book's head where it leans on them."""
    looked = standing.looked
    text = text_alone(looked.item.state) if looked.editable else looked.text
    content = text.encode("utf-8")
    return _file(content, "text/vnd.abc; charset=utf-8", "attachment", f"{looked.item.name}.abc")


def _file(content: bytes, kind: str, how: str, name: str) -> Response:
    """`name`: as it is shown (RFC 6266, RFC 8187)."""
    headers = {
        "content-disposition": f"{how}; filename*=UTF-8''{quote(name, safe='')}",
        "cache-control": "no-store",
    }
    return Response(content, media_type=kind, headers=headers)
