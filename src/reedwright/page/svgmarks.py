"""Marks that the plots share, as SVG.

Public: `line`, `text`.
"""

from __future__ import annotations

from xml.sax.saxutils import escape

INK = "#000000"


def line(
    x1: float, y1: float, x2: float, y2: float, stroke: str, width: float, dash: str = ""
) -> str:
    """A straight line; `dash` as SVG's `stroke-dasharray`."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}" stroke="{stroke}" '
        f'stroke-width="{width:g}"{dashed}/>'
    )


def text(x: float, y: float, content: str, size: float, anchor: str, weight: str = "normal") -> str:
    """Words with their baseline at `y`; spaces are kept."""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:g}" font-weight="{weight}" '
        f'text-anchor="{anchor}" fill="{INK}" xml:space="preserve">{escape(content)}</text>'
    )
