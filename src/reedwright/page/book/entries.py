"""One tune engraved for its place in a book.

A tune is set for a page (or more) of its own, and, where it is short, once more for half of one:
`printing` takes whichever its place asks for. Lengths are mm.

Public: `tune_entry`.
"""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import asdict, replace

from reedwright.harp.position import position
from reedwright.page.book.format import format_of, look_data
from reedwright.page.book.measuring import heights_of, unprintable
from reedwright.page.book.melody import beginning
from reedwright.page.book.model import BookLook, TuneEntry
from reedwright.page.book.qr import qr_svg
from reedwright.page.book.setting import NO_STORY, Piece, alone, shared, words_of
from reedwright.page.book.slim import slim
from reedwright.page.book.spoken import bars_in_words
from reedwright.page.book.story import with_story_pages
from reedwright.page.content import HEALTH, RIGHTS_NOT_STATED, LessonContent, lesson_content
from reedwright.page.engraving import Engraver, Look
from reedwright.page.harpchart import chart_svg, chart_width
from reedwright.page.opening import opening
from reedwright.page.settings import PageSettings
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.difficulty.grade import difficulty
from reedwright.tab.notation import tab_rows
from reedwright.tune.rights import rights_line

CHART_SCALE = 0.73  # paper to drawing: its smallest type is 7.7 points then
OPENING_BARS, OPENING_LOOK = 2, Look(4.4, 7.0)
OPENING_WIDTH = 55.0  # mm, of a column of the index of first notes


def tune_entry(
    name: str,
    arrangement: Arrangement,
    look: BookLook,
    address: str = "",
    words: str = "",
) -> TuneEntry:
    """The tune as it stands in a book.

    `name`: for links, unlike any other in the book (letters, digits, hyphens). `address`: of its
    sound on the web. `words`: the book maker's own, set under the title.

    Raises
    ------
    NotEngraved, NotTypeset
    """
    form = format_of(look)
    tune, harp = arrangement.tune, arrangement.harp
    paper = "letter" if look.paper == "letter" else "a4"
    content = lesson_content(arrangement, PageSettings(paper=paper, tab_style=look.tab_style))
    notes = tuple(note for note in content.remarks if note != HEALTH)
    content = replace(content, remarks=notes if look.full_notes else ())
    engraver = Engraver(
        tune, tab_rows(arrangement, look.tab_style), arrangement.voice, form.text_width
    )
    page = _head(content, look, address, words)
    page |= _texts(content, look)
    ways = words_of(content, form, look)
    heights = heights_of(
        {
            "title": content.title,
            "look": look_data(form, look),
            "tune": page,
            "ways": [way._asdict() for way in ways],
        }
    )
    below = list(zip(ways, heights["below"], strict=True))
    piece = Piece(engraver, form, heights["head"], below, bars_in_words(arrangement))
    own = alone(piece)
    if piece.told and own["below"]["story"] == NO_STORY:
        own |= with_story_pages(own, content, form, look)
    half = shared(piece) if look.two_to_a_page else None
    melody = beginning(arrangement)
    page |= {
        "alone": own,
        "shared": half,
        "melody": melody.order,
        "opening": _opening(arrangement, melody.text),
        "signs": [sign._asdict() for sign in content.tab_key],
        "harp_chart": chart_svg(harp, title="", legend=False),
    }
    entry = TuneEntry(
        name=name,
        title=content.title,
        also=content.also,
        type=tune.type.strip(),
        key=content.key or "",
        composer=content.composer,
        harp=content.harp,
        position=position(tune.key.tonic_pitch_class, harp) if content.position else 0,
        grade=difficulty(arrangement).grade if arrangement.notes_played else 0.0,
        begins=melody.text,
        rights=rights_line(tune) or "",
        address=address,
        page=page,
        height=half["height"] if half else form.text_height * len(own["sheets"]),
    )
    return _printable(entry, unprintable())


def _printable(entry: TuneEntry, letters: Collection[str]) -> TuneEntry:
    """Letters that no font has as question marks, so that the whole book need not meet them."""
    if not letters:
        return entry
    words = json.dumps(asdict(entry), ensure_ascii=False)
    if not any(letter in words for letter in letters):
        return entry
    told = json.loads(words.translate({ord(letter): "?" for letter in letters}))
    return TuneEntry(**told | {"also": tuple(told["also"])})


def _opening(arrangement: Arrangement, steps: str) -> dict[str, object]:
    """How the tune begins, engraved for the index of first notes."""
    drawn = opening(arrangement, OPENING_BARS, OPENING_WIDTH, OPENING_LOOK, with_tab=False)
    return {
        "svg": slim(drawn.svg),
        "width": drawn.width,
        "overhang": drawn.overhang,
        "alt": f"How {arrangement.tune.title} begins, in steps of its scale: {steps}.",
    }


def _head(content: LessonContent, look: BookLook, address: str, words: str) -> dict[str, object]:
    link = address if look.links != "none" else ""
    return {
        "title": content.title,
        "also": list(content.also),
        "kind": content.kind,
        "key": content.key or "",
        "composer": content.composer,
        "harp": content.harp,
        "position": content.position or "",
        "facts": [fact._asdict() for fact in content.facts],
        "words": words,
        "link": link,
        "qr": qr_svg(link) if link and look.links == "qr" else "",
    }


def _texts(content: LessonContent, look: BookLook) -> dict[str, object]:
    source = content.source and f"Source: {content.source}."
    rights = content.rights or RIGHTS_NOT_STATED
    return {
        "notes": list(content.remarks),
        "story": [told._asdict() for told in content.background] if look.full_notes else [],
        "rights": " ".join(part for part in (source, rights) if part),
        "chart": {
            "svg": content.chart,
            "width": round(chart_width(content.chart) * CHART_SCALE, 2),
            "alt": content.chart_words,
        },
    }
