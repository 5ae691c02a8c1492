"""The harps that a conversion may start from, and where their reeds lie.

Public: `stock_harps`, `comparable`, `stock_pitches`, `OFTEN_SOLD`, `NoStock`, `ConversionError`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from reedwright.errors import ReedwrightError
from reedwright.harp.making import made_harps
from reedwright.harp.model import Harp
from reedwright.harp.naming import A4_HZ
from reedwright.harp.tunings import find_tuning
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.targets.model import Targets, TargetWishes

# Tunings that shops have besides the standard one (from memory); few in every key.
OFTEN_SOLD = (
    "richter",
    "richter-raised-5-draw",
    "natural-minor",
    "harmonic-minor",
    "solo",
    "slide-solo-12",
)


# Hz; what a harp to start from may be tuned to. Old harps, and those for old music, lie further
# off than what is tuned today (from memory: from 415, a semitone under 440, to about 457).
LOWEST_STOCK_A4, HIGHEST_STOCK_A4 = 415.0, 460.0


class ConversionError(ReedwrightError):
    """A conversion that cannot be planned as it is asked for."""


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


def stock_pitches(stock: Harp, wishes: TargetWishes) -> Targets:
    """Where the reeds of a harp lie that was tuned so: targets, but of any A4 a harp may have had.

    Raises `ConversionError` for another A4, and the errors of `reed_targets`.
    """
    if not LOWEST_STOCK_A4 <= wishes.a4 <= HIGHEST_STOCK_A4:
        raise ConversionError(
            f"no harp to start from has an A4 of {wishes.a4:g} Hz; give {LOWEST_STOCK_A4:g} to "
            f"{HIGHEST_STOCK_A4:g}, or measure its reeds"
        )
    # Every pitch is so many times A4, so those at 440 are found first.
    times = wishes.a4 / A4_HZ
    found = reed_targets(stock, replace(wishes, a4=A4_HZ))
    return Targets(
        stock,
        wishes,
        tuple(
            each._replace(hz=each.hz * times, bench_hz=each.bench_hz * times)
            for each in found.reeds
        ),
    )


def _alike(wanted: Harp, harp: Harp) -> bool:
    return harp.tuning.holes == wanted.tuning.holes and harp.tuning.slide == wanted.tuning.slide


def _holes(harp: Harp) -> str:
    slide = " and a slide" if harp.tuning.slide else ""
    return f"{harp.tuning.holes} hole{'s' if harp.tuning.holes > 1 else ''}{slide}"


def _listed(numbers: Sequence[int]) -> str:
    return " or ".join(map(str, numbers))
