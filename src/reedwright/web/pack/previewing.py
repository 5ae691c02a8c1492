"""The page of a pack drawn while its settings are chosen.

Public: `Drawn`, `drawn`.
"""

from __future__ import annotations

from dataclasses import dataclass

from reedwright.harp.written import harp_text
from reedwright.page.preview import LessonPictures, lesson_pictures
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.tab.text import notices
from reedwright.web.music.arranging import harps_to_choose_from
from reedwright.web.music.opening import OpenTune
from reedwright.web.pack.asked import PageAsked, wanted_arrangement
from reedwright.web.remembering import Remembered

REMEMBERED = 12  # lessons, of a page or two of some 200 kB each


@dataclass(frozen=True, slots=True)
class Drawn:
    """`harp`: its name. `notices`: what to know before the pack is made."""

    pictures: LessonPictures
    harp: str
    notices: tuple[str, ...]


_before: Remembered[Drawn] = Remembered(REMEMBERED)


def drawn(shelf: Shelf, tune: OpenTune, asked: PageAsked) -> Drawn:
    """All pages, so that leafing draws nothing anew. Raises as `wanted_arrangement`, `lesson_pdf`
    do."""

    def draw() -> Drawn:
        arrangement = wanted_arrangement(shelf, tune, asked)
        pictures = lesson_pictures(arrangement, asked.page_settings())
        return Drawn(pictures, arrangement.harp.name, tuple(notices(arrangement)))

    harps = harps_to_choose_from(shelf) or ()
    page = {name: getattr(asked, name) for name in PageAsked.model_fields}
    made_from = (tune.item.uid, tune.item.state, tune.choices, [harp_text(each) for each in harps])
    return _before.get(repr((made_from, page)), draw)
