"""A harp written as people write it, and as `parse_harp` reads it again.

Public: `harp_text`.
"""

from __future__ import annotations

from reedwright.harp.making import parse_valves
from reedwright.harp.model import Breath, Harp


def harp_text(harp: Harp) -> str:
    """As `parse_harp` reads it: `G`, `low D`, `G:richter-raised-3-blow:half`.

    The pitch of A4 is not told. A tuning of the user's own is named by its name.
    """
    tuning = harp.tuning
    valves = next(
        (
            word
            for word in ("as made", "none", "half", "full")
            if parse_valves(word, tuning) == harp.isolated
        ),
        "",
    )
    if not valves:
        holes = {
            breath: [str(reed.hole) for reed in sorted(harp.isolated) if reed.breath is breath]
            for breath in Breath
        }
        valves = ", ".join(
            f"{breath.value} {' '.join(mine)}" for breath, mine in holes.items() if mine
        )
    parts = [harp.key if harp.register == "ordinary" else f"{harp.register} {harp.key}"]
    if tuning.name != "richter" or valves != "as made":
        parts.append(tuning.name)
    if valves != "as made":
        parts.append(valves)
    return ":".join(parts)
