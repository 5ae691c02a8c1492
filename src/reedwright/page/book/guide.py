"""What a book says before its tunes: how to read the tab, and which harps it needs.

Public: `tab_guide`, `harps_needed`, `ornament`.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Sounding, Technique
from reedwright.page.book.format import Format
from reedwright.page.book.model import BookLook, TuneEntry
from reedwright.page.engraving import Look, engrave
from reedwright.page.tabfont import printed
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tab.difficulty.scale import HIGHEST, grade_text
from reedwright.tab.notation import TabStyle, tab_rows, tab_sign
from reedwright.tune.abc import read_tunebook
from reedwright.tune.model import Tune
from reedwright.workshop.valving.slots import slots_of

# An example of our own, with a bend in it, on a harp in C.
EXAMPLE = "X:1\nT:Example\nM:4/4\nL:1/4\nK:C\nCEGA|cdec|dBGE|C4|]\n"
EXAMPLE_HARP = "C"
EXAMPLE_LOOK = Look(6.0, 10.0)
EXAMPLE_WIDTH = 110.0  # mm

_HOLES = (
    "Every note has a figure under it: the hole to play. Holes are counted from 1, on the left, "
    "where the low notes are."
)
_BREATH = {
    TabStyle.ARROWS: "An arrow up means blow, an arrow down means draw.",
    TabStyle.SIGNS: "A plus before the hole means blow, a minus means draw.",
    TabStyle.ROWS: "Of the two rows, holes in the upper one are blown, those in the lower drawn.",
}
_GRACES = "Small figures belong to grace notes, which are touched just before the note itself."
_COMMAS = "A comma above the staff is a good place to breathe."


def tab_guide(tunes: Sequence[TuneEntry], form: Format, look: BookLook) -> dict[str, object]:
    """How to read the tab of these tunes: words, an engraved example and the signs that occur."""
    style = TabStyle(look.tab_style)
    used = {(sign["sign"], sign["text"]) for tune in tunes for sign in _signs(tune)}
    words = [f"{_HOLES} {_BREATH[style]}"]
    words += [_GRACES] if any("grace" in text for _, text in used) else []
    words += [_COMMAS] if any("comma" in text for _, text in used) else []
    signs = sorted(
        (sign for sign in used if sign[0] and not sign[1].startswith("hole")),
        key=lambda sign: (_ORDER.find(sign[0]), sign[1]),
    )
    blow, draw = (
        printed(tab_sign(Sounding(4, breath, Technique.NATURAL, 0), style)) for breath in Breath
    )
    if style is not TabStyle.ROWS:
        signs = [(blow, "hole 4, blow"), (draw, "hole 4, draw"), *signs]
    system = _example(look.tab_style, min(EXAMPLE_WIDTH, form.text_width))
    return {
        "words": words,
        "signs": [{"sign": sign, "text": text} for sign, text in signs],
        "example": {
            "svg": system.svg,
            "width": system.width,
            "overhang": system.overhang,
            "alt": f"An example on a harp in {EXAMPLE_HARP}: four bars of music, and under every "
            "note its tab.",
        },
        "facts": [
            {
                "label": "Position",
                "text": "how the tune's key lies to the harp's: in first position both are the "
                "same, and each further one lies a fifth higher.",
            },
            {
                "label": "Grade",
                "text": "how hard a tune is to play on its harp, from 1, easy, to "
                f"{grade_text(HIGHEST)}, hard.",
            },
        ],
    }


_ORDER = "′°<×"  # in which signs are explained


def _signs(tune: TuneEntry) -> list[dict[str, str]]:
    signs: Any = tune.page["signs"]
    return list(signs)


@cache
def _example(style: str, width: float) -> Any:
    (tune,) = (tune for tune in read_tunebook(EXAMPLE.splitlines()) if isinstance(tune, Tune))
    arranged = arrange(tune, make_harp(EXAMPLE_HARP), load_profile("all-techniques"))
    (system,) = engrave(tune, tab_rows(arranged, style), width=width, look=EXAMPLE_LOOK)
    return system


def harps_needed(tunes: Sequence[TuneEntry]) -> list[dict[str, object]]:
    """Each harp of the book, the most used first: its name, how many tunes, positions, chart."""
    names = dict.fromkeys(tune.harp for tune in tunes)
    found = [[tune for tune in tunes if tune.harp == name] for name in names]
    found.sort(key=lambda several: (-len(several), several[0].harp))
    return [
        {
            "name": several[0].harp,
            "tunes": len(several),
            "positions": sorted({tune.position for tune in several} - {0}),
            "svg": several[0].page["harp_chart"],
            "alt": f"Chart of the {several[0].harp}: the notes of every hole.",
        }
        for several in found
    ]


def ornament() -> dict[str, object]:
    """The reed slots of a ten-hole harp in C, for a drawing: lengths and widths in mm."""
    slots = slots_of(make_harp("C"))
    return {
        plate.value: [
            {"length": slot.length, "width": slot.width}
            for slot in slots
            if slot.reed.breath is plate
        ]
        for plate in Breath
    }
