"""Tunes of one title: where the music is somewhat alike, too, they are settings of one tune.

Public: `folded`, `namesakes`.
"""

from __future__ import annotations

import re
import unicodedata
from collections import defaultdict
from collections.abc import Sequence

MOST = 12
"""Tunes of one title that each is compared with; a title that more have tells little."""

_LEFT_OUT = frozenset({
    "the", "a", "an", "reel", "jig", "slip", "hop", "single", "double", "hornpipe", "strathspey",
    "polka", "slide", "waltz", "march", "air", "clog", "schottische", "barndance", "mazurka",
    "highland", "fling",
})  # fmt: skip


def folded(title: str) -> str:
    """A title without accents, articles, kind of tune, plural and genitive: its words in order of
    the alphabet, so that `Reedmaker, The` is `The Reedmaker's Reel`. Empty where none is left."""
    plain = unicodedata.normalize("NFKD", title.replace("\N{RIGHT SINGLE QUOTATION MARK}", "'"))
    text = "".join(sign for sign in plain if not unicodedata.combining(sign)).casefold()
    words = re.findall(r"[^\W_]+", text.replace("'s", "").replace("'", ""))
    return " ".join(sorted(word.rstrip("s") or word for word in words if word not in _LEFT_OUT))


def namesakes(called: Sequence[str]) -> list[tuple[int, ...]]:
    """For each of the folded titles the places of the others that are the same; none where it is
    empty or too many have it."""
    places: dict[str, list[int]] = defaultdict(list)
    for place, title in enumerate(called):
        places[title].append(place)
    places[""] = []
    return [
        tuple(other for other in places[title] if other != place)
        if 1 < len(places[title]) <= MOST + 1
        else ()
        for place, title in enumerate(called)
    ]
