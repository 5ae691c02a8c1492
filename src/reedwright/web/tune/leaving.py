"""A tune taken out of the app: its page as PDF, its text as ABC.

Public: `page_pdf`, `tune_abc`.
"""

from __future__ import annotations

from starlette.responses import Response

from reedwright.shelf.facts.reading import text_alone
from reedwright.tab.choices.model import ChoicesError
from reedwright.web.music.standing import Standing
from reedwright.web.sending import sent


def page_pdf(standing: Standing) -> Response:
    """The lesson page, to be looked at in the browser. Raises `ReedwrightError` where the tune
    cannot be set."""
    from reedwright.page.lesson import lesson_pdf

    if standing.arrangement is None or standing.stale:
        raise ChoicesError(standing.trouble or "The text has to be mended before it is printed.")
    pdf = lesson_pdf(standing.arrangement)
    return sent(pdf, f"{standing.looked.item.name}.pdf", look=True)


def tune_abc(standing: Standing) -> Response:
    """The text to the letter, with the fields of its book's head where it leans on them."""
    looked = standing.looked
    text = text_alone(looked.item.state) if looked.editable else looked.text
    return sent(text.encode("utf-8"), f"{looked.item.name}.abc")
