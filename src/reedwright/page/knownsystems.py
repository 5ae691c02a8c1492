"""What a system of music is drawn from, so that one that was drawn before is known again.

Verovio sets each system by itself (it is a page of its own). Its drawing follows from its own bars
and those beside it, from the clef, key and metre that hold there, and from what reaches into it
from further away: slurs, ties, endings, hairpins. All of that goes into its key; so whoever edits
one bar has one system drawn anew, and the others are taken as they were.

Public: `system_keys`, `Drawn`.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from itertools import pairwise

from reedwright.page.systemsvg import TabText

Drawn = tuple[str, float, float]
"""The SVG text of a system, its width and its height in mm."""

_MEASURE = "<measure "
_ID = re.compile(r'\bid="([^"]+)"')
# What holds or reaches on beyond its own bar (MusicXML 4.0).
_REACHING = re.compile(
    r"<attributes>.*?</attributes>|<barline\b.*?</barline>|<direction\b.*?</direction>"
    r"|<(?:slur|tied|tuplet|wedge)\b[^>]*>",
    re.DOTALL,
)
_SLUR = re.compile(r'<slur\b[^>]*type="(start|stop)"')


def system_keys(
    source: str, edges: Sequence[int], texts: Mapping[str, Sequence[TabText]], look: str
) -> list[str]:
    """A key for each system of a MusicXML text whose systems run from edge to edge (indices of
    bars). `texts`: the tab of each note; `look`: all else that the drawing depends on."""
    head, *measures = source.split(_MEASURE)
    reaching = ["".join(_REACHING.findall(measure)) for measure in measures]
    slurred = _slurred(measures)
    keys = []
    for first, last in pairwise(edges):
        own = measures[max(0, first - 1) : last + 1]
        if slurred[first] or slurred[last]:  # its curve goes by notes that may stand anywhere
            own = [*own, *measures]
        parts = (
            look,
            head,
            f"{first == 0} {last == len(measures)} {last - first}",
            *own,
            "before",
            *reaching[: max(0, first - 1)],
            "after",
            *reaching[last + 1 :],
            repr([(id_, texts.get(id_)) for each in own for id_ in _ID.findall(each)]),
        )
        found = hashlib.blake2b("\x00".join(parts).encode("utf-8", "replace"), digest_size=16)
        keys.append(found.hexdigest())
    return keys


def _slurred(measures: Sequence[str]) -> list[bool]:
    """Whether a slur is open before each measure, and after the last."""
    found, open_ = [False], 0
    for measure in measures:
        for kind in _SLUR.findall(measure):
            open_ += 1 if kind == "start" else -1
        found.append(open_ != 0)
    return found
