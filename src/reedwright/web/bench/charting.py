"""A harp's chart on a page.

Public: `chart`.
"""

from __future__ import annotations

from markupsafe import Markup

from reedwright.harp.model import Harp
from reedwright.pack.site.drawing import inlined
from reedwright.page.bench.content import chart_words
from reedwright.page.harpchart import chart_svg


def chart(harp: Harp, prefix: str = "h-") -> Markup:
    """The harp's chart as an element of a page; our own drawing."""
    return Markup(inlined(chart_svg(harp, title=""), prefix, chart_words(harp)))
