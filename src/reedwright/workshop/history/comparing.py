"""Two measurements of one harp beside each other, and what is known of a harp today.

Public: `ReedChange`, `compare`, `whole_change`, `latest`.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import hypot, log2
from statistics import median
from typing import NamedTuple

from reedwright.harp.making import HarpError, parse_harp
from reedwright.harp.model import Harp, Reed
from reedwright.harp.tunings import TuningError
from reedwright.workshop.history.model import Converted, History, Measured
from reedwright.workshop.measuring.model import Measurement

# Cents by which one reed differs between two recordings, breath and warmth as even as people
# manage (from memory, no source).
BETWEEN_RECORDINGS = 1.0
SURELY = 2.0  # standard errors, about 95 in 100 (JCGM 100:2008, 6.3.3)


class ReedChange(NamedTuple):
    """One reed before and after, Hz and cents from its target of that time; nothing where it was
    not measured. `change` in cents, after against before, with its standard error.

    `moved`: whether the change is more than the measurements leave open.
    """

    reed: Reed
    before_hz: float | None
    after_hz: float | None
    before_cents: float | None
    after_cents: float | None
    change: float | None = None
    uncertainty: float | None = None

    @property
    def moved(self) -> bool:
        return (
            self.change is not None
            and self.uncertainty is not None
            and abs(self.change) > SURELY * self.uncertainty
        )


class _One(NamedTuple):
    hz: float
    cents: float
    uncertainty: float


def compare(
    before: Measured | Measurement,
    after: Measured | Measurement,
    between: float = BETWEEN_RECORDINGS,
) -> tuple[ReedChange, ...]:
    """Per reed, by hole, blow before draw: before, after, change.

    `between` (cents, standard deviation) is what the same reed differs by from one recording to
    the next.
    """
    old, new = _by_reed(before), _by_reed(after)
    found = []
    for reed in sorted({*old, *new}):
        one, other = old.get(reed), new.get(reed)
        change = doubt = None
        if one and other:
            change = 1200 * log2(other.hz / one.hz)
            doubt = hypot(one.uncertainty, other.uncertainty, between)
        found.append(
            ReedChange(
                reed,
                one.hz if one else None,
                other.hz if other else None,
                one.cents if one else None,
                other.cents if other else None,
                change,
                doubt,
            )
        )
    return tuple(found)


def whole_change(changes: tuple[ReedChange, ...]) -> float:
    """Cents by which the harp as a whole lies higher: the median of the reeds' changes."""
    each = [change.change for change in changes if change.change is not None]
    return median(each) if each else 0.0


def latest(history: History, sure: bool = False) -> dict[Reed, float]:
    """Hz of every reed as it was last measured.

    A reed that was worked on in a conversion since is left out until it is measured again; with
    `sure` one that may be another reed of the same note, too (as `name_reeds` wants it, to tell
    unisons apart).
    """
    found: dict[Reed, float] = {}
    harp = history.harp
    for entry in history.by_date:
        if isinstance(entry, Measured):
            for each in entry.reeds:
                if sure and each.others:
                    found.pop(each.reed, None)
                else:
                    found[each.reed] = each.hz
        elif isinstance(entry, Converted):
            for reed in _retuned(harp, entry, found):
                found.pop(reed, None)
            harp = entry.harp
    return dict(sorted(found.items()))


def _retuned(harp: str, entry: Converted, among: Mapping[Reed, float]) -> list[Reed]:
    named = [reed for reed, _ in entry.works]
    old, new = _harp(harp), _harp(entry.harp)
    if old is None or new is None:  # a tuning file that is gone: nothing is sure but what is said
        return named or list(among)
    holes = min(old.tuning.holes, new.tuning.holes)
    return named + [
        reed for reed in among if reed.hole > holes or old.reed_midi(*reed) != new.reed_midi(*reed)
    ]


def _harp(text: str) -> Harp | None:
    try:
        return parse_harp(text)
    except (HarpError, TuningError):
        return None


def _by_reed(measured: Measured | Measurement) -> dict[Reed, _One]:
    return {each.reed: _One(each.hz, each.cents, each.uncertainty) for each in measured.reeds}
