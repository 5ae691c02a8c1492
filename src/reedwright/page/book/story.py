"""A tune's story where it is long: on pages of its own, in pieces that fit. Lengths are mm.

Public: `with_story_pages`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from reedwright.page.book.format import Format, look_data
from reedwright.page.book.measuring import heights_of
from reedwright.page.book.model import BookLook
from reedwright.page.book.setting import SLACK
from reedwright.page.content import LessonContent

STORY_PIECE = 1200  # letters, about, of a piece that is not broken over pages
STORY_TITLE = 12.0  # mm, of the heading of such a page
_SENTENCE_END = re.compile(r"(?<=[.!?;,])\s+|\s+(?=\S{40})")


def with_story_pages(
    music: Mapping[str, Any], content: LessonContent, form: Format, look: BookLook
) -> dict[str, Any]:
    """A tune that is set without its story (by `setting.alone`), and that on pages behind it."""
    pieces = [
        {"label": told.label if number == 0 else None, "text": text}
        for told in content.background
        for number, text in enumerate(_pieces(told.text))
    ]
    data = {"title": content.title, "look": look_data(form, look), "story": pieces}
    pages: list[list[dict[str, str | None]]] = []
    room = 0.0
    for piece, height in zip(pieces, heights_of(data)["story"], strict=True):
        if not pages or height > room:
            pages.append([])
            room = form.text_height - STORY_TITLE - SLACK
        pages[-1].append(piece)
        room -= height
    return {
        **music,
        "sheets": [*music["sheets"], *([] for _ in pages)],
        "story_pages": pages,
    }


def _pieces(text: str) -> Iterator[str]:
    """A paragraph in pieces of some length, broken between sentences."""
    piece = ""
    for sentence in _SENTENCE_END.split(text):
        if piece and len(piece) + len(sentence) > STORY_PIECE:
            yield piece
            piece = ""
        piece = f"{piece} {sentence}" if piece else sentence
    yield piece
