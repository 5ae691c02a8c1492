"""Finding a tune by its ups and downs alone, written in the Parsons code.

Public: `find_contour`, `checked_contour`.

The code (D. Parsons, "The Directory of Tunes and Musical Themes", 1975): `*` for the first
note, then for each further note `U` where it is higher, `D` lower, `R` the same as the one before.
Who does not read music can write it down from memory.
"""

from __future__ import annotations

import re

import numpy as np
import numpy.typing as npt

from reedwright.tune.likeness.collection import GAP, Collection
from reedwright.tune.likeness.model import Difference, Match, NotFindable

FEWEST_SIGNS = 5
WORST_SHARE = 0.75  # of the signs that must fit
_SIGNS = {"U": 1, "D": -1, "R": 0}
_BREAK = 2


def checked_contour(text: str) -> str:
    """The signs alone, in capitals; the star in front and blanks may be left out.

    Raises `NotFindable`.
    """
    signs = re.sub(r"[\s*]", "", text).upper()
    strange = sorted(set(signs) - set(_SIGNS))
    if strange:
        raise NotFindable(
            f"{text!r}: {', '.join(strange)} is no sign of the Parsons code. "
            "Write U for up, D for down and R for a repeated note, such as *UUDRUD."
        )
    if len(signs) < FEWEST_SIGNS:
        raise NotFindable(
            f"{text!r} has {len(signs)} signs, too few to find a tune by. Give {FEWEST_SIGNS} at "
            "least; fifteen or more single a tune out."
        )
    return signs


def find_contour(
    collection: Collection,
    text: str,
    limit: int = 10,
    among: npt.NDArray[np.bool_] | None = None,
) -> list[Match]:
    """The tunes whose ups and downs fit best, at most `limit`; wrong signs are allowed for.

    A match's score is the share of signs that fit; of equal ones those go first where a tune, a
    part or a bar begins. `among`, of shape (tunes,): tunes that may be found. Raises `NotFindable`.
    """
    asked = np.array([_SIGNS[sign] for sign in checked_contour(text)], dtype=np.int8)
    signs = _signs(collection)
    if len(signs) < len(asked):
        return []
    size = len(signs) - len(asked) + 1
    fitting = np.zeros(size, dtype=np.int16)
    whole = np.ones(size, dtype=bool)
    for k, sign in enumerate(asked.tolist()):
        here = signs[k : k + size]
        fitting += here == sign
        whole &= here != _BREAK
    fitting[~whole] = -1
    matches: list[Match] = []
    taken: set[int] = set()
    for count in range(len(asked), int(np.ceil(WORST_SHARE * len(asked))) - 1, -1):
        places = np.flatnonzero(fitting == count)
        begun = collection.starts[places].astype(np.int8)
        for place in places[np.argsort(-begun, kind="stable")].tolist():
            tune = collection.tune_at(place)
            if tune in taken or (among is not None and not among[tune]):
                continue
            taken.add(tune)
            matches.append(_match(collection, tune, place, len(asked), count))
            if len(matches) >= limit:
                return matches
    return matches


def _signs(collection: Collection) -> npt.NDArray[np.int8]:
    """Up, down or same from each place to the next; `_BREAK` where a strip ends."""
    midi = collection.midi
    signs = np.sign(np.diff(midi.astype(np.int32))).astype(np.int8)
    signs[(midi[1:] == GAP) | (midi[:-1] == GAP)] = _BREAK
    return signs


def _match(collection: Collection, tune: int, place: int, signs: int, fitting: int) -> Match:
    return Match(
        collection.tunes[tune],
        tune,
        fitting / signs,
        int(collection.bar[place]),
        int(collection.bar[place + signs]),
        None,
        Difference(wrong=signs - fitting),
    )
