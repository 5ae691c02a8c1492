"""One system as Verovio drew it, made ready for paper: real size, our fonts, the tab set.

Verovio's coordinates here are tenths of its page units.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

from reedwright.page.tabfont import FAMILY

SVG = "{http://www.w3.org/2000/svg}"
TEXT_FAMILY = "Libertinus Serif"
POINT = 25.4 / 72  # millimetres

ElementTree.register_namespace("", SVG[1:-1])


class TabText(NamedTuple):
    """A text to set, its size in points; `half`: half the width that was kept for it, in em."""

    text: str
    size: float
    half: float


def finished_system(
    page: str, texts: Mapping[str, Sequence[TabText]], millimetre: float
) -> tuple[str, float, float]:
    """The SVG text of one system, its width and its height in mm.

    `texts`: by note id, the tab of each verse from the top. `millimetre`: page units in one.
    """
    root = ElementTree.fromstring(page)
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    root.set("width", f"{width / millimetre:.3f}mm")
    root.set("height", f"{height / millimetre:.3f}mm")
    root.set("font-family", TEXT_FAMILY)
    _strip(root)
    for element in root.iter(f"{SVG}g"):
        if element.get("class") == "note" and element.get("id") in texts:
            _set_tab(element, texts[element.get("id", "")], 10 * millimetre * POINT)
    for text in root.iter():
        if text.get("font-family", "").startswith("Times"):
            text.set("font-family", TEXT_FAMILY)
    svg = ElementTree.tostring(root, encoding="unicode")
    return svg, width / millimetre, height / millimetre


def _strip(root: Element) -> None:
    """Leave out words that are meant for other programs."""
    for parent in root.iter():
        for child in list(parent):
            if child.tag in (f"{SVG}desc", f"{SVG}title"):
                parent.remove(child)


def _set_tab(note: Element, texts: Sequence[TabText], point: float) -> None:
    """Put the tab where the note's verses stand. `point`: coordinate units in a point."""
    verses = [verse for verse in note.iter(f"{SVG}g") if verse.get("class") == "verse"]
    for verse, tab in zip(verses, texts, strict=False):
        text = next(verse.iter(f"{SVG}text"))
        size = next(
            float(part.get("font-size", "0").removesuffix("px"))
            for part in text.iter(f"{SVG}tspan")
            if part.get("font-size")
        )
        middle = float(text.get("x", "0")) + tab.half * size
        y = text.get("y", "0")
        text.clear()
        text.attrib.update(
            {
                "x": f"{middle:.0f}",
                "y": y,
                "text-anchor": "middle",
                "font-family": FAMILY,
                "font-size": f"{tab.size * point:.1f}px",
            }
        )
        text.text = tab.text
