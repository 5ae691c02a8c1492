"""A harp without valves and with them, for one tune: what becomes possible, what is lost.

Public: `Valving`, `valving`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from reedwright.harp.layout import note_name
from reedwright.harp.making import parse_valves
from reedwright.harp.model import Breath, Harp
from reedwright.page.content import signs_in_print
from reedwright.tab.expression import ValveComparison, compare_valves, valves_text
from reedwright.tab.words import listed, short_words
from reedwright.web.harps.asked import pick_of
from reedwright.web.harps.seeing import Ground, Seen, seen

_WIDE = 100_000
"""Characters: so wide that no line of the text is broken."""


@dataclass(frozen=True, slots=True)
class Valving:
    """`bare` and `valved` honour what is chosen by hand; `found` is without it. `isolated` names
    the reeds that gain, `gained` and `lost` notes of the harp with the way they are sounded,
    whether or not the player has it; `conclusion` is for the teacher."""

    bare: Seen
    valved: Seen
    found: ValveComparison
    isolated: str
    gained: tuple[str, ...]
    lost: tuple[str, ...]
    conclusion: str


def valving(on: Ground, harp: Harp, octaves: int) -> Valving:
    """The valves are the harp's own where it has some, else half-valving."""
    bare = replace(harp, isolated=frozenset())
    valved = replace(harp, isolated=harp.isolated or parse_valves("half", harp.tuning))
    found = compare_valves(on.session.tune, harp, on.profile, on.voice, octaves, on.semitones, None)
    return Valving(
        bare=seen(on, pick_of(bare, octaves)),
        valved=seen(on, pick_of(valved, octaves)),
        found=found,
        isolated=_reeds(valved),
        gained=_only(valved, bare),
        lost=_only(bare, valved),
        # The sentences at the end of what `reedwright valves` prints.
        conclusion=valves_text(found, _WIDE).rpartition("\n")[2],
    )


def _reeds(harp: Harp) -> str:
    """`blow 1, 2 and 3; draw 7 and 8`."""
    said = []
    for breath in Breath:
        holes = [str(reed.hole) for reed in sorted(harp.isolated) if reed.breath is breath]
        if holes:
            said.append(f"{breath.value} {listed(holes)}")
    return "; ".join(said)


def _only(one: Harp, other: Harp) -> tuple[str, ...]:
    """Notes that `one` has by a technique and `other` has not at all: `E♭4, 1 blow bent`."""
    return tuple(
        f"{signs_in_print(note_name(midi, one))}, {short_words(one.ways[midi][0])}"
        for midi in sorted(set(one.ways) - set(other.ways))
    )
