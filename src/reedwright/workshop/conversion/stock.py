"""The harps that a conversion may start from.

Public: `stock_harps`, `comparable`, `OFTEN_SOLD`, `NoStock`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from reedwright.errors import ReedwrightError
from reedwright.harp.making import made_harps
from reedwright.harp.model import Harp
from reedwright.harp.tunings import find_tuning

# Tunings that shops have besides the standard one (from memory); few in every key.
OFTEN_SOLD = (
    "richter",
    "richter-raised-5-draw",
    "natural-minor",
    "harmonic-minor",
    "solo",
    "slide-solo-12",
)


class NoStock(ReedwrightError):
    """No harp that can be bought has the reed plates that are wanted."""


def stock_harps(tunings: Iterable[str | Path] = ("richter",)) -> tuple[Harp, ...]:
    """Every harp that can be had in these tunings: keys and registers as `made_harps` has them."""
    return made_harps(find_tuning(name) for name in tunings)


def comparable(wanted: Harp, stocks: Sequence[Harp]) -> tuple[Harp, ...]:
    """Those of as many holes, with or without a slide as wanted. Raises `NoStock`."""
    found = tuple(dict.fromkeys(harp for harp in stocks if _alike(wanted, harp)))
    if found:
        return found
    holes = sorted({harp.tuning.holes for harp in stocks if harp.tuning.slide == 0})
    slides = sorted({harp.tuning.holes for harp in stocks if harp.tuning.slide})
    have = [f"{_listed(holes)} holes"] if holes else []
    have += [f"{_listed(slides)} holes and a slide"] if slides else []
    raise NoStock(
        f"no stock harp can become the {wanted.name}: it has {_holes(wanted)}, and the harps to "
        f"choose from have {' or '.join(have) or 'not been named'}. Retuning adds neither holes "
        "nor a slide; name a stock harp, or a tuning that is sold, with the same"
    )


def _alike(wanted: Harp, harp: Harp) -> bool:
    return harp.tuning.holes == wanted.tuning.holes and harp.tuning.slide == wanted.tuning.slide


def _holes(harp: Harp) -> str:
    slide = " and a slide" if harp.tuning.slide else ""
    return f"{harp.tuning.holes} hole{'s' if harp.tuning.holes > 1 else ''}{slide}"


def _listed(numbers: Sequence[int]) -> str:
    return " or ".join(map(str, numbers))
