"""Make the tab font: figures of Fira Sans Condensed, with narrow arrows drawn for tab.

Arrows of text fonts are nearly an em wide, which pushes quavers apart; these take the
width of a figure and stand as high. Both fonts are under the SIL Open Font License 1.1;
Fira's has no reserved font name, and the derived font has a name of its own.

    python tools/make_tab_font.py FiraSansCondensed-SemiBold.ttf OUT.ttf

The input may be any TrueType-flavoured file of Fira Sans Condensed (also .woff).
"""

from __future__ import annotations

import sys
from pathlib import Path

from fontTools.misc.timeTools import timestampFromString
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont

FAMILY = "Reedwright Tab"
KEPT = (
    " 0123456789+-−<>°×.,'()/=?:"
    + "".join(map(chr, range(0x41, 0x5B)))
    + "".join(map(chr, range(0x61, 0x7B)))
)
# Drawn in thousandths of an em, as Fira is; figures are 689 high.
EM, HEIGHT = 1000, 689
ARROW_WIDTH, SHAFT, HEAD_WIDTH, HEAD_HEIGHT = 400, 92, 330, 300
PRIME_WIDTH = 190
FIXED_DATE = "Wed Nov 25 00:00:00 2026"  # so that the same input gives the same bytes


def main() -> None:
    source, out = map(Path, sys.argv[1:3])
    font = TTFont(source, recalcTimestamp=False)
    font.flavor = None
    scale = font["head"].unitsPerEm / EM
    options = Options()
    options.layout_features = []
    options.hinting = False
    options.name_IDs = [0, 1, 2, 3, 4, 6, 13, 14]
    options.notdef_outline = True
    options.recalc_timestamp = False
    subsetter = Subsetter(options)
    subsetter.populate(unicodes=map(ord, KEPT + "↑"))
    subsetter.subset(font)
    cut = (ARROW_WIDTH - HEAD_WIDTH) / 2
    middle, half = ARROW_WIDTH / 2, SHAFT / 2
    neck = HEIGHT - HEAD_HEIGHT
    up = [
        (middle, HEIGHT), (ARROW_WIDTH - cut, neck), (middle + half, neck), (middle + half, 0),
        (middle - half, 0), (middle - half, neck), (cut, neck),
    ]  # fmt: skip
    down = [(x, HEIGHT - y) for x, y in reversed(up)]
    prime = [(60, 420), (95, 715), (195, 715), (115, 420)]
    add_glyph(font, "arrowup", 0x2191, up, ARROW_WIDTH, scale)
    add_glyph(font, "arrowdown", 0x2193, down, ARROW_WIDTH, scale)
    add_glyph(font, "minute", 0x2032, prime, PRIME_WIDTH, scale)
    names = font["name"]
    style = "SemiBold"
    for id_, text in (
        (0, names.getDebugName(0) + "; arrows and prime by the Reedwright project, 2026"),
        (1, FAMILY), (2, "Regular"), (3, f"{FAMILY} 1.0"), (4, FAMILY),
        (6, FAMILY.replace(" ", "") + f"-{style}"),
        (13, "This Font Software is licensed under the SIL Open Font License, Version 1.1."),
        (14, "https://openfontlicense.org"),
    ):  # fmt: skip
        names.setName(text, id_, 3, 1, 0x409)
    names.names = [record for record in names.names if record.platformID == 3]
    font["OS/2"].usWeightClass = 400
    font["OS/2"].fsSelection = 0x40
    font["head"].macStyle = 0
    font["head"].created = font["head"].modified = timestampFromString(FIXED_DATE)
    font.save(out)


def add_glyph(
    font: TTFont, name: str, code: int, points: list[tuple[float, float]], width: int, scale: float
) -> None:
    """A glyph of one straight-sided outline, in thousandths of an em."""
    pen = TTGlyphPen(None)
    pen.moveTo((round(points[0][0] * scale), round(points[0][1] * scale)))
    for x, y in points[1:]:
        pen.lineTo((round(x * scale), round(y * scale)))
    pen.closePath()
    glyph = pen.glyph()
    order = font.getGlyphOrder()
    if name not in order:
        font.setGlyphOrder([*order, name])
    font["glyf"][name] = glyph
    glyph.recalcBounds(font["glyf"])
    font["hmtx"][name] = (round(width * scale), glyph.xMin)
    for table in font["cmap"].tables:
        if table.isUnicode():
            table.cmap[code] = name


if __name__ == "__main__":
    main()
