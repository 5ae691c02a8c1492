"""What layouts do to tunes, as arrays.

Public: `TuneRow`, `Table`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray


class TuneRow(NamedTuple):
    """One tune on every layout; shape (layouts,).

    `missing`: written notes that the best harp lacks. `units`: least effort in 1/1024, among
    the harps that lack fewest. `plain`: playable with no bends or overbends and nothing missing
    on some harp, also where the least effort has a bend. Of a tune that has no notes to play
    nothing is missing and nothing is plain.
    """

    missing: NDArray[np.int32]
    units: NDArray[np.int64]
    plain: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Table:
    """Every tune on every layout; shape (tunes, layouts). As `TuneRow`.

    `played`, shape (tunes,): notes played in the tune.
    """

    missing: NDArray[np.int32]
    units: NDArray[np.int64]
    plain: NDArray[np.bool_]
    played: NDArray[np.int32]
