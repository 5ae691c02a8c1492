"""Small invented tunes for tests of sets, and tables of efforts filled in by hand."""

from __future__ import annotations

import random
from collections.abc import Sequence

import numpy as np

from reedwright.harp.making import parse_harp
from reedwright.harp.model import Harp
from reedwright.tab.sets.efforts import EffortTable
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

METRES = {"reel": "4/4", "jig": "6/8", "waltz": "3/4", "polka": "2/4", "hornpipe": "4/4"}


def abc_tune(number: int, title: str, kind: str = "reel", key: str = "D", seed: int = 0) -> str:
    rng = random.Random(f"{seed} {number}")
    notes = {"4/4": 8, "6/8": 6, "3/4": 6, "2/4": 4}[METRES[kind]]
    bars = ["".join(rng.choice("DEFGABcd") for _ in range(notes)) for _ in range(4)]
    head = f"X:{number}\nT:{title}\nR:{kind}\nM:{METRES[kind]}\nL:1/8\nK:{key}\n"
    return f"{head}|:{'|'.join(bars)}:|\n"


def tunes_of(*kinds: tuple[str, str], seed: int = 0) -> list[Tune]:
    """Tunes named A, B, C... of these types and keys."""
    text = "\n".join(
        abc_tune(at, chr(64 + at), kind, key, seed) for at, (kind, key) in enumerate(kinds, 1)
    )
    return [tune for tune in read_abc(text) if isinstance(tune, Tune)]


def table_of(
    tunes: Sequence[Tune],
    harps: Sequence[str | Harp],
    per_note: Sequence[Sequence[float | None]],
    bends: Sequence[Sequence[int]] | None = None,
) -> EffortTable:
    """A table of one move; None for a tune that lacks a note on a harp."""
    made = tuple(parse_harp(each) if isinstance(each, str) else each for each in harps)
    missing = np.array([[1 if cell is None else 0 for cell in row] for row in per_note], np.int32)
    effort = np.array([[9.0 if cell is None else cell for cell in row] for row in per_note])
    shape = (len(tunes), len(made), 1)
    none = np.zeros(shape, np.int32)
    bent = none if bends is None else np.array(bends, np.int32).reshape(shape)
    return EffortTable(
        tuple(tunes),
        made,
        ((0, 0),),
        missing.reshape(shape),
        bent,
        none,
        effort.reshape(shape),
        np.zeros(shape),
        {},
    )
