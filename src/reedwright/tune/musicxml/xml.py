"""A little help for building XML elements."""

from __future__ import annotations

from xml.etree.ElementTree import Element, SubElement


def add(parent: Element, tag: str, content: object = None, /, **attributes: object) -> Element:
    """Append an element. Attributes: `line_type` becomes `line-type`, None is left out."""
    named = {
        name.rstrip("_").replace("_", "-"): str(value)
        for name, value in attributes.items()
        if value is not None
    }
    child = SubElement(parent, tag, named)
    if content is not None:
        child.text = clean(str(content))
    return child


def clean(text: str) -> str:
    """Without the control characters that XML 1.0 forbids."""
    return "".join(c for c in text if c in "\t\n" or (c >= " " and c not in "\ufffe\uffff"))
