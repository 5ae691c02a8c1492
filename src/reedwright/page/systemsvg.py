"""One system as Verovio drew it, made ready for paper: real size, our fonts, the tab set.

Verovio's coordinates here are tenths of its page units.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

from reedwright.page.tabfont import FAMILY, text_width
from reedwright.page.tabroom import GRACE_GAP

SVG = "{http://www.w3.org/2000/svg}"
TEXT_FAMILY = "Libertinus Serif"
POINT = 25.4 / 72  # millimetres
OVERHANG = 4.0  # mm that a drawing goes beyond the staff on the left, for bar numbers
# Widths of note heads, in staff spaces, by SMuFL code point; any other is a black one.
HEAD_WIDTHS = {"E0A0": 2.4, "E0A1": 2.4, "E0A2": 1.7}
BLACK_HEAD = 1.3
STAFF_SPACE = 180.0  # tenths of a unit
FULL_SCALE = 0.72  # of a glyph that is no grace note's
# Verovio lets a beam touch the figures below it; they are set lower by this, in em.
TAB_DROP = 0.2
LABEL_SIZE = 8.5  # points, of the names of two rows of tab
# The flag of a lone grace note, from the tip of its stem, for a stem that points up.
FLAG = "c 8 62 118 92 112 214 c -2 38 -14 70 -28 98 c 16 -96 -18 -150 -84 -176 z"

# Accidentals of chord symbols, which Verovio takes from its music font (figured bass in SMuFL),
# as the Unicode signs that text fonts have.
SIGNS = {"\uea63": "♭♭", "\uea64": "♭", "\uea65": "♮", "\uea66": "♯", "\uea67": "♯♯"}
_PRIVATE = re.compile("[\ue000-\uf8ff]")

ElementTree.register_namespace("", SVG[1:-1])
_HEAD = re.compile(r"translate\((-?[\d.]+), (-?[\d.]+)\) scale\((-?[\d.]+)")
_STEM = re.compile(r"M(-?[\d.]+) (-?[\d.]+) L(-?[\d.]+) (-?[\d.]+)")


class TabText(NamedTuple):
    """A text to set: the row it stands in (from 0), and its size in points."""

    row: int
    text: str
    size: float


@dataclass(slots=True)
class _Placed:
    """A text element with its middle and width."""

    element: Element
    middle: float
    width: float
    grace: bool


def finished_system(
    page: str,
    texts: Mapping[str, Sequence[TabText]],
    millimetre: float,
    labels: Sequence[str] = (),
) -> tuple[str, float, float]:
    """The SVG text of one system, its width and its height in mm.

    `texts`: by note id, the tab of each verse from the top. `millimetre`: page units in one.
    `labels`: of the rows, set at the left where a row stands in this system.
    """
    root = ElementTree.fromstring(page)
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    overhang = OVERHANG * millimetre
    width += overhang
    size = max((tab.size for tabs in texts.values() for tab in tabs), default=0.0)
    drop = TAB_DROP * size * POINT * millimetre
    height += drop
    root.set("viewBox", f"{-overhang:.1f} 0 {width:.1f} {height:g}")
    root.set("width", f"{width / millimetre:.3f}mm")
    root.set("height", f"{height / millimetre:.3f}mm")
    root.set("font-family", TEXT_FAMILY)
    for inner in root.iter(f"{SVG}svg"):
        if inner is not root:  # a plain group is not clipped at the staff's left end
            inner.tag = f"{SVG}g"
            del inner.attrib["viewBox"]
            inner.set("transform", "scale(0.1)")
            inner.attrib.pop("font-family", None)
    _strip(root)
    _plain_words(root)
    _flag_lone_graces(root)
    rows: dict[int, list[_Placed]] = {}
    lines: dict[int, str] = {}
    for element in root.iter(f"{SVG}g"):
        if element.get("class") in ("note", "chord"):
            tabs = texts.get(_note_id(element), ())
            for row, placed in _set_tab(element, tabs, millimetre, 10 * drop):
                rows.setdefault(row, []).append(placed)
                lines[row] = placed.element.get("y", "0")
    for placed_row in rows.values():
        _spread(placed_row)
    for row, y in lines.items():
        if row < len(labels) and labels[row]:
            label = {"x": "0", "y": y, "font-size": f"{LABEL_SIZE * 10 * POINT * millimetre:.1f}px"}
            SubElement(root, f"{SVG}g", {"transform": "scale(0.1)"}).append(
                _text(labels[row], label)
            )
    svg = ElementTree.tostring(root, encoding="unicode")
    return svg, round(width / millimetre, 3), round(height / millimetre, 3)


def _text(words: str, attributes: Mapping[str, str]) -> Element:
    element = Element(f"{SVG}text", {**attributes, "font-style": "italic"})
    element.text = words
    return element


def _strip(root: Element) -> None:
    """Leave out words that are meant for other programs."""
    for parent in root.iter():
        for child in list(parent):
            if child.tag in (f"{SVG}desc", f"{SVG}title"):
                parent.remove(child)


def _plain_words(root: Element) -> None:
    """Words in letters that a text font has; other signs of a music font are left out."""
    for text in root.iter(f"{SVG}text"):
        parts = [part for part in text.iter(f"{SVG}tspan") if part.text and part.text.strip()]
        size = next((p.get("font-size") for p in parts if not _PRIVATE.search(p.text or "")), None)
        for part in parts:
            if _PRIVATE.search(part.text or ""):
                part.text = _PRIVATE.sub(lambda sign: SIGNS.get(sign[0], ""), part.text or "")
                part.attrib.pop("font-family", None)
                if size:  # music fonts are set larger
                    part.set("font-size", size)


def _flag_lone_graces(root: Element) -> None:
    """A grace note in a beam of its own has lost its flag; give it one."""
    for beam in root.iter(f"{SVG}g"):
        if beam.get("class") != "beam":
            continue
        if any(child.get("class") == "beam" for child in beam):
            continue
        notes = [child for child in beam if child.get("class") in ("note", "chord", "rest")]
        head = _head(notes[0]) if len(notes) == 1 else None
        if head is None or head[1] >= FULL_SCALE:
            continue
        stem = next((g for g in notes[0].iter(f"{SVG}g") if g.get("class") == "stem"), None)
        path = None if stem is None else stem.find(f"{SVG}path")
        found = None if path is None else _STEM.match(path.get("d", ""))
        if stem is None or found is None:
            continue
        x, y1, _, y2 = map(float, found.groups())
        tip = min(y1, y2)
        SubElement(stem, f"{SVG}path", {"d": f"M {x - 4:g} {tip:g} {FLAG}"})


def _note_id(element: Element) -> str:
    """Our id of a note; a chord goes by its first note's, which the document gave it."""
    if element.get("class") == "note":
        return element.get("id", "")
    first = next((g for g in element.iter(f"{SVG}g") if g.get("class") == "note"), element)
    return first.get("id", "")


def _head(note: Element) -> tuple[float, float, str] | None:
    """Of the first note head: its left end, its scale, and its SMuFL code point."""
    for use in note.iter(f"{SVG}use"):
        found = _HEAD.match(use.get("transform", ""))
        if found:
            return float(found[1]), float(found[3]), use.get("href", "#")[1:5]
    return None


def _set_tab(
    note: Element, texts: Sequence[TabText], millimetre: float, drop: float
) -> list[tuple[int, _Placed]]:
    """Put the tab in place of the note's stand-in verses, each centred on the note's head."""
    head = _head(note)
    if head is None:
        return []
    x, scale, code = head
    middle = x + HEAD_WIDTHS.get(code, BLACK_HEAD) * STAFF_SPACE / 2 * scale / FULL_SCALE
    point = 10 * millimetre * POINT
    verses = [verse for verse in note.iter(f"{SVG}g") if verse.get("class") == "verse"]
    placed = []
    for number, verse in enumerate(verses):
        text = next(verse.iter(f"{SVG}text"))
        y = float(text.get("y", "0")) + drop
        if number >= len(texts):  # words of a song, below the tab
            text.set("y", f"{y:.0f}")
            continue
        tab = texts[number]
        text.clear()
        text.attrib.update(
            {
                "y": f"{y:.0f}",
                "text-anchor": "middle",
                "font-family": FAMILY,
                "font-size": f"{tab.size * point:.1f}px",
            }
        )
        text.text = tab.text
        width = text_width(tab.text) * tab.size * point
        placed.append((tab.row, _Placed(text, middle, width, scale < FULL_SCALE)))
    return placed


def _spread(row: Sequence[_Placed]) -> None:
    """Move the texts of grace notes left as far as the texts after them need."""
    edge: float | None = None
    for placed in reversed(row):
        if placed.grace and edge is not None:
            gap = GRACE_GAP * float(placed.element.get("font-size", "0px").removesuffix("px"))
            placed.middle = min(placed.middle, edge - gap - placed.width / 2)
        edge = placed.middle - placed.width / 2
        placed.element.set("x", f"{placed.middle:.0f}")
