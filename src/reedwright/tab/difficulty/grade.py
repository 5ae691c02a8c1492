"""The grade of an arrangement for its player, with its reasons.

The work of a tune is its effort (docs/effort.md) for each second of playing, and what awkward
breath adds (`breath.py`). Effort is a least sum of costs each of which stays or falls as time
grows, so the work never grows when a tune gets slower, whatever fingering is then
chosen. The scale (`scale.py`) never falls as the work grows. docs/difficulty.md has the argument
for each reason.

Public: `Difficulty`, `Reason`, `ReasonKind`, `difficulty`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from reedwright.harp.model import Breath, Technique
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.difficulty.breath import Strain, forced_strain, strain_work
from reedwright.tab.difficulty.moments import Account, Moment, account_of
from reedwright.tab.difficulty.scale import grade_of, grade_word, graded
from reedwright.tab.words import bars_text, counted


class ReasonKind(StrEnum):
    """What makes a tune hard; each weight of effort belongs to one of these."""

    TEMPO = "tempo"
    BREATH_CHANGES = "breath changes"
    LEAPS = "leaps"
    BENDS = "bends"
    ORNAMENTS = "ornaments"
    RANGE = "range"
    REPEATS = "repeated and neighbouring notes"
    MISSING = "missing notes"
    BREATH = "awkward breath"


_KINDS = {
    "breath_change": ReasonKind.BREATH_CHANGES,
    "step": ReasonKind.BREATH_CHANGES,
    "slur_breath": ReasonKind.BREATH_CHANGES,
    "leap": ReasonKind.LEAPS,
    "leap_hole": ReasonKind.LEAPS,
    "slur_skip": ReasonKind.LEAPS,
    "draw_bend_1": ReasonKind.BENDS,
    "draw_bend_2": ReasonKind.BENDS,
    "draw_bend_3": ReasonKind.BENDS,
    "blow_bend_1": ReasonKind.BENDS,
    "blow_bend_2": ReasonKind.BENDS,
    "valved_bend": ReasonKind.BENDS,
    "overblow": ReasonKind.BENDS,
    "overdraw": ReasonKind.BENDS,
    "bend_from_afar": ReasonKind.BENDS,
    "bend_shift": ReasonKind.BENDS,
    "release": ReasonKind.BENDS,
    "low_draw": ReasonKind.RANGE,
    "high_hole": ReasonKind.RANGE,
    "repeated_note": ReasonKind.REPEATS,
    "neighbour": ReasonKind.REPEATS,
    "slide_move": ReasonKind.REPEATS,
    "missing_note": ReasonKind.MISSING,
}


def kind_of(weight: str) -> ReasonKind:
    """The reason that a weight of effort belongs to; what is not told apart is ornament."""
    return _KINDS.get(weight, ReasonKind.ORNAMENTS)


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason: its measured figure, in words too, and its share of the work (0 to 1).

    `work` is effort a second. `bars` are the printed bar numbers that the figure speaks of.
    """

    kind: ReasonKind
    figure: float
    unit: str
    words: str
    work: float
    share: float
    bars: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Difficulty:
    """One grade, 1 to 10 in halves, for this player, with its reasons, the weightiest first.

    `place` is where on the scale it lies before rounding, `work` effort a second (the reasons
    add up to it), `seconds` the length as played. `strain` is what no fingering spares the lungs.
    """

    grade: float
    word: str
    place: float
    work: float
    seconds: float
    player: str
    quarters_per_minute: float
    reasons: tuple[Reason, ...]
    strain: Strain | None

    @property
    def main(self) -> Reason | None:
        """What sets the tune apart, the tempo aside: the reason farthest above what is usual.

        The weightiest where none is above it (`USUAL_WORK`).
        """
        weighty = [each for each in self.reasons if each.work > 0]
        others = [each for each in weighty if each.kind is not ReasonKind.TEMPO] or weighty
        above = [each for each in others if each.work > USUAL_WORK.get(each.kind, 0.0)]
        if above:
            return max(above, key=lambda each: each.work - USUAL_WORK.get(each.kind, 0.0))
        return others[0] if others else None


USUAL_WORK = {
    ReasonKind.BREATH_CHANGES: 3.4,
    ReasonKind.LEAPS: 0.3,
    ReasonKind.REPEATS: 0.3,
    ReasonKind.RANGE: 0.05,
}
"""Effort a second that is usual: medians over the 1850 collection (docs/difficulty.md)."""


def difficulty(arrangement: Arrangement, account: Account | None = None) -> Difficulty:
    """Grade an arrangement at its tempo. `account`: if it is already worked out.

    A tune of which nothing is played has grade 1 and no reasons.
    """
    account = account or account_of(arrangement)
    strain = forced_strain(arrangement)
    works = _works(account) if account.moments and account.seconds else {}
    if strain_work(strain):
        works[ReasonKind.BREATH] = strain_work(strain)
    work = sum(works.values())
    reasons = [
        _reason(kind, works.get(kind, 0.0), work, arrangement, account, strain)
        for kind in ReasonKind
        if account.moments and (kind in works or kind in _ALWAYS_TOLD)
    ]
    reasons.sort(key=lambda each: -each.work)
    return Difficulty(
        grade=grade_of(work),
        word=grade_word(grade_of(work)),
        place=graded(work),
        work=work,
        seconds=account.seconds,
        player=arrangement.player.title,
        quarters_per_minute=arrangement.quarters_per_minute,
        reasons=tuple(reasons),
        strain=strain,
    )


_ALWAYS_TOLD = frozenset(ReasonKind) - {ReasonKind.MISSING}
"""Reasons that are told even where they add nothing."""


def _works(account: Account) -> dict[ReasonKind, float]:
    """Effort a second by reason: each at leisure, and what haste adds as the tempo's."""
    works: dict[ReasonKind, float] = {}
    at_tempo, at_leisure = account.parts(), account.leisure_parts()
    for name, effort in at_leisure.items():
        kind = kind_of(name)
        works[kind] = works.get(kind, 0.0) + effort / account.seconds
    haste = sum(at_tempo.values()) - sum(at_leisure.values())
    works[ReasonKind.TEMPO] = haste / account.seconds
    return works


def _reason(
    kind: ReasonKind,
    work: float,
    whole: float,
    arrangement: Arrangement,
    account: Account,
    strain: Strain | None,
) -> Reason:
    figure, unit, words, bars = _FIGURES[kind](account, arrangement, strain)
    return Reason(kind, round(figure, 3), unit, words, work, work / whole if whole else 0.0, bars)


_Figure = tuple[float, str, str, tuple[int, ...]]


def _tempo(account: Account, arrangement: Arrangement, _: Strain | None) -> _Figure:
    rate = len(account.moments) / account.seconds if account.seconds else 0.0
    return rate, "notes a second", f"{rate:.1f} notes a second", ()


def _breath_changes(account: Account, arrangement: Arrangement, _: Strain | None) -> _Figure:
    turns = sum(1 for each in account.moments if each.turns)
    rate = turns / account.seconds if account.seconds else 0.0
    return rate, "breath changes a second", f"{rate:.1f} breath changes a second", ()


def _leaps(account: Account, arrangement: Arrangement, _: Strain | None) -> _Figure:
    leaping = [each for each in account.moments if each.leap]
    bars = _bars(leaping)
    words = f"{_in_bars('leaps', bars, account)}"
    if leaping:
        words += f", the widest over {counted(max(each.leap for each in leaping), 'hole')}"
    return float(len(bars)), "bars with leaps", words, bars


def _bends(account: Account, arrangement: Arrangement, _: Strain | None) -> _Figure:
    made = [each for each in account.moments if each.sounding is not None]
    bent = [
        each
        for each in made
        if each.sounding is not None
        and each.sounding.technique in (Technique.BEND, Technique.VALVED_BEND)
    ]
    over = [each for each in made if each.sounding is not None and each.sounding.technique.overbend]
    bars = _bars([*bent, *over])
    words = _in_bars("bends", _bars(bent), account) if bent or not over else ""
    if over:
        over_words = _in_bars("overblows or overdraws", _bars(over), account)
        words = f"{words}, {over_words}" if words else over_words
    return float(len(bars)), "bars with bends", words, bars


def _ornaments(account: Account, arrangement: Arrangement, _: Strain | None) -> _Figure:
    ornamented = [each for each in account.moments if each.demands]
    count = len(ornamented)
    words = f"ornaments on {count} of {counted(len(account.moments), 'note')} as played"
    return float(count), "ornamented notes", words if count else "no ornaments", _bars(ornamented)


def _range(account: Account, arrangement: Arrangement, _: Strain | None) -> _Figure:
    holes = [each.sounding.hole for each in account.moments if each.sounding is not None]
    if not holes:
        return 0.0, "holes", "no notes on this harp", ()
    low, high = min(holes), max(holes)
    words = f"holes {low} to {high}" if low < high else f"all in hole {low}"
    return float(high - low + 1), "holes", words, ()


def _repeats(account: Account, arrangement: Arrangement, _: Strain | None) -> _Figure:
    still = steps = 0
    for each in account.moments:
        if each.sounding is None or each.following is None or each.turns:
            continue
        still += each.following.hole == each.sounding.hole
        steps += abs(each.following.hole - each.sounding.hole) == 1
    words = f"{counted(still, 'note')} again in the hole, {counted(steps, 'move')} to the next hole"
    return float(still + steps), "moves", f"{words} in one breath", ()


def _missing(account: Account, arrangement: Arrangement, _: Strain | None) -> _Figure:
    lacking = [each for each in account.moments if each.sounding is None]
    bars = _bars(lacking)
    words = f"{counted(len(lacking), 'note')} as played that the harp lacks, in {bars_text(bars)}"
    return float(len(lacking)), "notes as played", words if lacking else "no note missing", bars


def _breath(_: Account, arrangement: Arrangement, strain: Strain | None) -> _Figure:
    if strain is None:
        return 0.0, "litres", "no stretch forces the breath", ()
    fill = "fill" if strain.breath is Breath.DRAW else "empty"
    words = (
        f"whatever the fingering, the lungs {fill} by {strain.litres:.1f} litres "
        f"{_from_to(strain.bars)} (at the usual tempo)"
    )
    return strain.litres, "litres", words, strain.bars


def _from_to(bars: Sequence[int]) -> str:
    if bars[0] == bars[-1]:
        return f"in {bars_text(bars[:1])}"
    on = "to" if bars[-1] > bars[0] else "round to"  # over a repeat
    return f"from {bars_text(bars[:1])} {on} {bars_text(bars[-1:])}"


_FIGURES = {
    ReasonKind.TEMPO: _tempo,
    ReasonKind.BREATH_CHANGES: _breath_changes,
    ReasonKind.LEAPS: _leaps,
    ReasonKind.BENDS: _bends,
    ReasonKind.ORNAMENTS: _ornaments,
    ReasonKind.RANGE: _range,
    ReasonKind.REPEATS: _repeats,
    ReasonKind.MISSING: _missing,
    ReasonKind.BREATH: _breath,
}


def _bars(moments: Sequence[Moment]) -> tuple[int, ...]:
    return tuple(sorted({each.bar.number for each in moments}))


def _in_bars(what: str, bars: Sequence[int], account: Account) -> str:
    """`bends in 6 of 32 bars`; `no bends`."""
    if not bars:
        return f"no {what}"
    # The upbeat counts for a bar only where it has what is counted.
    printed = {each.bar.number for each in account.moments} - ({0} - set(bars))
    return f"{what} in {len(bars)} of {counted(len(printed), 'bar')}"
