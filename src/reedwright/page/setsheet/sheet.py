"""The set sheet: for the stand on an evening of sets.

Public: `set_sheet_pdf`, `set_sheet_data`. The look is a Typst template, templates/set-sheet.typ;
the pages are PDF/UA-1, the same bytes for the same evening.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from reedwright.harp.model import Harp
from reedwright.harp.position import position, position_name
from reedwright.page.bench.papers import Paper, paper_named, template_path
from reedwright.page.content import key_in_print, signs_in_print
from reedwright.page.engraving import Look
from reedwright.page.opening import Opening, opening
from reedwright.page.press import Press, page_count
from reedwright.player.profile import Profile
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.sets.model import Evening, SetEntry
from reedwright.tab.words import counted

TEMPLATE = "set-sheet.typ"
BROKEN = "<broken>"  # where the template names the sets that go over pages
BARS = 2  # of each tune that are shown
SMALL_PAPER = 160.0  # mm wide: below it the music stands under the words
SIDE_MARGIN, SMALL_SIDE_MARGIN = 14.0, 10.0  # mm
WORDS_WIDTH = 70.0  # mm beside the music
GUTTER = 4.0  # mm between them
# Sizes of words (points) and staff (mm) to try, the largest first. A sheet on a stand is read at
# arm's length and in poor light: print for that is set in 12 points and more (common practice).
SIZES = ((13.5, 7.4), (13.0, 6.8), (12.0, 6.2), (11.0, 5.6))
TAB_SHARE = 1.667  # points of tab to a millimetre of staff, as on a lesson page


def set_sheet_pdf(
    evening: Evening, player: Profile, paper: str = "a4", tab_style: str = "arrows"
) -> bytes:
    """The sheet, set as large as the fewest pages allow; no set is broken that a page can hold.

    `tab_style`: arrows, signs or rows. Raises `ReedwrightError` for a paper that is not known,
    `NotEngraved`, `NotTypeset`.
    """
    sheet = paper_named(paper)
    arranged = _arranged(evening, player)
    press = Press(template_path(TEMPLATE))
    best, fewest = b"", (len(evening.sets) + 1, 0)
    for words, staff in SIZES:
        data = _data(evening, arranged, sheet, tab_style, words, staff)
        broken = len(press.told(data, BROKEN))
        pdf = press.typeset(data)
        if (broken, page_count(pdf)) < fewest:
            best, fewest = pdf, (broken, page_count(pdf))
        if fewest == (0, 1):
            break
    return best


def set_sheet_data(
    evening: Evening,
    player: Profile,
    paper: str = "a4",
    tab_style: str = "arrows",
    size: tuple[float, float] = SIZES[0],
) -> dict[str, object]:
    """What the template is given, JSON-ready, at one size: words in points, staff in mm."""
    return _data(evening, _arranged(evening, player), paper_named(paper), tab_style, *size)


Arranged = Mapping[tuple[int, int], Arrangement]
"""By the place of the set, and of the tune in it."""


def _arranged(evening: Evening, player: Profile) -> Arranged:
    return {
        place: arrange(
            entry.tune, entry.harp, player, octaves=entry.octaves, semitones=entry.semitones
        )
        for place, entry in _entries(evening)
    }


def _entries(evening: Evening) -> Iterator[tuple[tuple[int, int], SetEntry]]:
    for number, each in enumerate(evening.sets):
        for place, entry in enumerate(each.entries):
            yield (number, place), entry


def _data(
    evening: Evening, arranged: Arranged, paper: Paper, tab_style: str, words: float, staff: float
) -> dict[str, object]:
    small = paper.width < SMALL_PAPER
    margin = SMALL_SIDE_MARGIN if small else SIDE_MARGIN
    room = paper.width - 2 * margin - (0 if small else WORDS_WIDTH + GUTTER)
    look = Look(staff, staff * TAB_SHARE)
    laid_out = {harp: number for number, harp in enumerate(evening.harps, start=1)}
    sets = []
    held: Harp | None = None
    for number, each in enumerate(evening.sets):
        tunes = []
        for place, entry in enumerate(each.entries):
            arrangement = arranged[number, place]
            begin = opening(arrangement, BARS, room, look, tab_style)
            tunes.append(
                _tune(entry, arrangement, begin)
                | {"harp_number": laid_out[entry.harp], "change": held not in (None, entry.harp)}
            )
            held = entry.harp
        sets.append({"name": each.name, "tunes": tunes})
    tunes_in_all = sum(len(each.entries) for each in evening.sets)
    return {
        "title": evening.title,
        "description": f"{counted(len(sets), 'set')} of {counted(tunes_in_all, 'tune')}, and how "
        "each begins.",
        "harps": [
            {"number": number, "name": signs_in_print(harp.name), "tunes": _tunes_on(evening, harp)}
            for harp, number in laid_out.items()
        ],
        "sets": sets,
        "paper": paper.name,
        "small": small,
        "margin": margin,
        "words_width": WORDS_WIDTH,
        "gutter": GUTTER,
        "text_size": words,
    }


def _tunes_on(evening: Evening, harp: Harp) -> int:
    return sum(entry.harp == harp for _, entry in _entries(evening))


def _tune(entry: SetEntry, arrangement: Arrangement, begin: Opening) -> dict[str, object]:
    tune = arrangement.tune
    tonic = tune.key.tonic_pitch_class
    place = None if tune.key.mode == "none" else position_name(position(tonic, entry.harp))
    kind = (tune.type.strip(), key_in_print(tune))
    return {
        "title": tune.title,
        "kind": ", ".join(part for part in kind if part),
        "harp": signs_in_print(entry.harp.name),
        "position": place,
        "times": "once" if entry.times == 1 else counted(entry.times, "time"),
        "missing": counted(len(arrangement.missing), "note") if arrangement.missing else "",
        "music": {
            "svg": begin.svg,
            "width": begin.width,
            "height": begin.height,
            "overhang": begin.overhang,
            "alt": begin.words,
        },
    }
