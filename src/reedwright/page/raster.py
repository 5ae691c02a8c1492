"""From vector drawings to pixels, with the same engine and fonts that set our pages.

Public: `svg_to_png`.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

FONTS = Path(__file__).parent / "fonts"

# One picture, a page of just its size. SVG user units become CSS pixels (96 to the inch).
_PAGE = b"""#set page(width: auto, height: auto, margin: 0pt, fill: white)
#image("drawing.svg", alt: "drawing")
"""


def svg_to_png(svg: str, dpi: float = 200.0) -> bytes:
    """The drawing as a PNG on white, `dpi` pixels to the inch.

    Text is set with the project's fonts and those that Typst carries, never the system's, so
    that the same drawing gives the same picture everywhere.
    """
    import typst

    fonts = typst.Fonts(include_system_fonts=False, font_paths=[FONTS] if FONTS.is_dir() else [])
    # Files by name are part of the library's documented interface, but not of its type stubs.
    compile_files: Any = typst.compile
    png = compile_files(
        {"main.typ": _PAGE, "drawing.svg": svg.encode()},
        format="png",
        ppi=dpi,
        font_paths=fonts,
    )
    assert isinstance(png, bytes)
    return png
