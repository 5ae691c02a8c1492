"""Types of tunes (reel, jig, slip jig...) by the many ways in which tunebooks name them.

Public: `type_among`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

# Other spellings of types, as they stand in tunebooks (common practice, no source).
_OTHER_NAMES = {
    "barn dance": "barndance",
    "double jigs": "double jig",
    "slipjig": "slip jig",
    "hop-jig": "hop jig",
    "setdance": "set dance",
    "waltzer": "waltz",
    "valse": "waltz",
    "schottish": "schottische",
    "germans": "schottische",
    "3/2 hornpipe": "three-two hornpipe",
    "triple hornpipe": "three-two hornpipe",
    "ballad": "song",
    "contradance": "country dance",
    "contra": "country dance",
}


def type_among(written: str, known: Iterable[str]) -> str:
    """Which of the known types a tune's type field means; nothing where it is none of them."""
    names = sorted(known, key=len, reverse=True)
    kind = " ".join(re.sub(r"[^a-z0-9/ -]", " ", written.lower()).split())
    kind = _OTHER_NAMES.get(kind, kind)
    if kind in names:
        return kind
    # "reels", "Irish reel", "jig (double)": the longest type that is a word of it.
    for name in names:
        if re.search(rf"\b{re.escape(name)}s?\b", kind):
            return name
    return ""
