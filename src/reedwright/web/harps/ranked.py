"""The rows of the table: harps ranked, filtered, ordered by any column.

The ranking is that of `reedwright harps` (`tab.ranking`): the tune as written, without what was
chosen by hand for single notes. What effort is made of, and the air, are those of each harp's
arrangement.

Public: `Row`, `Table`, `table`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from hashlib import blake2b

from reedwright.harp.model import Harp
from reedwright.harp.naming import KEYS
from reedwright.harp.position import position_name
from reedwright.page.content import signs_in_print
from reedwright.player.profile import Profile
from reedwright.tab.arrange import arrange
from reedwright.tab.breath.account import breath_account
from reedwright.tab.ranking import RankedHarp, rank_harps
from reedwright.tab.words import moved_words
from reedwright.tune.model import Tune
from reedwright.tune.transpose import transposed
from reedwright.web.harps.asked import Asked, pick_of
from reedwright.web.remembering import Remembered

# The weights of `player.profile.Weights` in four heaps, for a table that can be read.
TURNING = ("breath_change", "slur_breath")
MOVING = ("neighbour", "step", "leap", "leap_hole", "slur_skip", "repeated_note", "slide_move")
BENDING = (
    "draw_bend_1",
    "draw_bend_2",
    "draw_bend_3",
    "blow_bend_1",
    "blow_bend_2",
    "valved_bend",
    "overblow",
    "overdraw",
    "bend_from_afar",
    "bend_shift",
    "release",
)

_RANKED: Remembered[tuple[RankedHarp, ...]] = Remembered(24)
_PARTS: Remembered[tuple[float, float, float, float, float]] = Remembered(4000)


@dataclass(frozen=True, slots=True)
class Row:
    """`rank` counts from 1 in the whole ranking. The four parts are effort a note and add up to
    `ranked.effort_per_note`; `air` is the share of the time (0 to 1) that the lungs are beyond
    what is comfortable. `own`: the owner's names for the harp."""

    rank: int
    ranked: RankedHarp
    own: str
    turning: float
    moving: float
    bending: float
    other: float
    air: float

    @property
    def pick(self) -> str:
        return pick_of(self.ranked.harp, self.ranked.octaves)

    @property
    def name(self) -> str:
        return signs_in_print(self.ranked.harp.name)

    @property
    def position(self) -> str:
        return position_name(self.ranked.position)

    @property
    def octave(self) -> str:
        return moved_words(self.ranked.octaves, 0) if self.ranked.octaves else "as written"

    @property
    def holes(self) -> str:
        low, high = self.ranked.lowest_hole, self.ranked.highest_hole
        return f"{low} to {high}" if high else "none"


@dataclass(frozen=True, slots=True)
class Table:
    """`fitting`: how many harps and octaves fit the filters; `rows` are the easiest of them."""

    rows: tuple[Row, ...]
    fitting: int
    all: int


_VALUES: dict[str, Callable[[Row], object]] = {
    "rank": lambda row: row.rank,
    "harp": lambda row: _harp_order(row.ranked.harp),
    "position": lambda row: row.ranked.position,
    "octave": lambda row: row.ranked.octaves,
    "effort": lambda row: row.ranked.effort_per_note,
    "turning": lambda row: row.turning,
    "moving": lambda row: row.moving,
    "bending": lambda row: row.bending,
    "other": lambda row: row.other,
    "bends": lambda row: row.ranked.bends,
    "overs": lambda row: row.ranked.overblows,
    "missing": lambda row: row.ranked.missing,
    "ornaments": lambda row: row.ranked.other_ornaments + row.ranked.lost_ornaments,
    "holes": lambda row: (row.ranked.lowest_hole, row.ranked.highest_hole),
    "air": lambda row: row.air,
}


def _harp_order(harp: Harp) -> tuple[int, int, str]:
    """From the lowest harp up, then by tuning."""
    return harp.transpose, KEYS.index(harp.key) if harp.key in KEYS else 99, harp.name


def table(
    tune: Tune,
    profile: Profile,
    voice: int,
    semitones: int,
    owned: tuple[tuple[str, Harp], ...],
    asked: Asked,
) -> Table:
    """The easiest harps that fit, in the order asked for; those alike in it stay as ranked.

    `voice` counts from 0; `semitones`: by which the tune is moved to another key; `owned`: names
    and harps of the shelf. Raises `OutOfRange` (see `transposed`).
    """
    moved = transposed(tune, semitones=semitones)
    harps = tuple(dict.fromkeys(harp for _, harp in owned)) if asked.mine else None
    music = blake2b(f"{moved!r} {profile!r} {voice}".encode("utf-8", "replace")).digest()
    ranked = _RANKED.get((music, harps), lambda: rank_harps(moved, profile, harps, voice))
    fitting = [(k, each) for k, each in enumerate(ranked, 1) if _fits(each, asked)]
    own: dict[Harp, list[str]] = {}
    for name, harp in owned:
        own.setdefault(harp, []).append(name)
    rows = []
    for rank, each in fitting[: asked.most]:
        parts = _parts(moved, profile, voice, each, music)
        rows.append(Row(rank, each, ", ".join(own.get(each.harp, ())), *parts))
    rows.sort(key=_VALUES[asked.column], reverse=asked.down)  # type: ignore[arg-type]
    return Table(tuple(rows), len(fitting), len(ranked))


def _fits(each: RankedHarp, asked: Asked) -> bool:
    return (
        (not asked.position or each.position in asked.position)
        and (not asked.tuning or each.harp.tuning.name in asked.tuning)
        and (not asked.octave or each.octaves in asked.octave)
        and not (asked.plain and each.bends)
        and not (asked.no_over and each.overblows)
        and not (asked.whole and each.missing)
    )


def _parts(
    tune: Tune, profile: Profile, voice: int, each: RankedHarp, music: bytes
) -> tuple[float, float, float, float, float]:
    """Effort a note of turning, moving, bending and else, and the share short of air.

    Harps of one layout at one distance from the tune are the same in all of this.
    """
    distance = 12 * each.octaves - each.harp.transpose
    key = (music, each.harp.tuning, each.harp.isolated, distance)

    def work() -> tuple[float, float, float, float, float]:
        found = arrange(tune, each.harp, profile, voice, each.octaves)
        notes = found.notes_played or 1
        heaps = [
            sum(found.parts_of_effort.get(name, 0.0) for name in names) / notes
            for names in (TURNING, MOVING, BENDING)
        ]
        air = breath_account(found).outside
        other = max(0.0, found.effort / notes - sum(heaps))
        return heaps[0], heaps[1], heaps[2], other, air

    return _PARTS.get(key, work)
