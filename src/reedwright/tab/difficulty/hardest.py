"""The bars of a tune by how hard they are, each with what makes it so.

A bar's effort is that of the notes that begin in it and of the moves that begin from them,
each time that it is played; over all bars it adds up to the tune's. What counts for the order is
effort a second, so that a long bar is not hard for its length.

Public: `BarWork`, `Spot`, `bar_works`, `hardest_bars`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from reedwright.harp.model import Technique
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.difficulty.grade import ReasonKind, kind_of
from reedwright.tab.difficulty.moments import SECONDS_PER_MINUTE, Account, Moment, account_of
from reedwright.tab.difficulty.scale import grade_of
from reedwright.tab.effort import SCALE
from reedwright.tab.words import bend_words, short_words
from reedwright.tune.unfold import unfold

MOST_BARS = 6
"""How many hardest bars are told unless asked otherwise."""

MOST_SPOTS = 2
_SHORTEST = 0.5  # of a full bar: a bar that is shorter counts as this long for the order


class Spot(NamedTuple):
    """A note, a move or a run of moves, in the player's words, with its effort in one playing."""

    words: str
    effort: float


@dataclass(frozen=True, slots=True)
class BarWork:
    """One printed bar (0: the upbeat). `effort` is that of every time it is played together.

    `work` is effort a second while it lasts, `grade` that of a tune which were all like it.
    `reasons` share `effort` out, what haste adds as the tempo's; `spots` are its hardest places.
    `alike` are other bars with the very same notes in the same holes.
    """

    number: int
    times: int
    seconds: float
    effort: float
    work: float
    grade: float
    reasons: Mapping[ReasonKind, float]
    spots: tuple[Spot, ...]
    alike: tuple[int, ...] = ()

    @property
    def main(self) -> ReasonKind | None:
        """What weighs most, besides the tempo where there is something else."""
        others = {kind: e for kind, e in self.reasons.items() if kind is not ReasonKind.TEMPO}
        return max(others or self.reasons, key=lambda kind: self.reasons[kind], default=None)

    @property
    def why(self) -> str:
        """`4 draw to 7 blow, a leap while the breath turns, at 0.11 s; ...`"""
        return "; ".join(spot.words for spot in self.spots)


def bar_works(arrangement: Arrangement, account: Account | None = None) -> tuple[BarWork, ...]:
    """Every printed bar that is played, in the order of the page."""
    account = account or account_of(arrangement)
    quarter = SECONDS_PER_MINUTE / (arrangement.quarters_per_minute or 100.0)
    rows: dict[int, list[int]] = {}
    for k, moment in enumerate(account.moments):
        rows.setdefault(moment.bar.number, []).append(k)
    seconds: dict[int, float] = {}
    starts: dict[int, set[int]] = {}
    times: dict[tuple[int, int], int] = {}
    full: dict[int, float] = {}
    for played in unfold(arrangement.plain, arrangement.voice).bars:
        bar = played.bar
        seconds[bar.number] = seconds.get(bar.number, 0.0) + float(bar.length) * quarter
        starts.setdefault(bar.number, set()).add(bar.index)
        times[bar.number, bar.index] = times.get((bar.number, bar.index), 0) + 1
        full[bar.number] = float(bar.meter.bar_length or bar.length) * quarter
    found = []
    faces = {number: _face(account, mine) for number, mine in rows.items()}
    for number in sorted(seconds):
        mine = rows.get(number, [])
        often = max(times[number, index] for index in starts[number])
        effort = int(account.units[mine].sum()) / SCALE if mine else 0.0
        lasting = max(seconds[number], _SHORTEST * full[number] * often)
        work = effort / lasting if lasting else 0.0
        found.append(
            BarWork(
                number=number,
                times=often,
                seconds=seconds[number],
                effort=effort,
                work=work,
                grade=grade_of(work),
                reasons=_reasons(account, mine),
                spots=_spots(account, mine),
                alike=tuple(
                    other
                    for other in sorted(faces)
                    if number in faces and other != number and faces[other] == faces[number]
                ),
            )
        )
    return tuple(found)


def hardest_bars(
    arrangement: Arrangement, count: int = MOST_BARS, account: Account | None = None
) -> tuple[BarWork, ...]:
    """The hardest bars, hardest first; of equals the earlier.

    Of bars that are alike the hardest stands for all. Bars of no effort are left out.
    """
    works = [each for each in bar_works(arrangement, account) if each.effort > 0]
    works.sort(key=lambda each: (-each.work, each.number))
    found: list[BarWork] = []
    told: set[int] = set()
    for each in works:
        if each.number not in told:
            found.append(each)
            told.update(each.alike)
    return tuple(found[:count])


def _face(account: Account, rows: Sequence[int]) -> tuple[object, ...]:
    """What a bar is to the player, played once: its notes, their holes, how long they are."""
    return tuple(
        (each.sounding, each.note.pitch.midi, each.note.length, each.demands)
        for each in _once(account, rows)
    )


def _once(account: Account, rows: Sequence[int]) -> Iterator[Moment]:
    """The moments of a bar as it is played the first time."""
    seen: set[str] = set()
    for row in rows:
        moment = account.moments[row]
        if moment.note.id not in seen:
            seen.add(moment.note.id)
            yield moment


def _reasons(account: Account, rows: Sequence[int]) -> dict[ReasonKind, float]:
    found: dict[ReasonKind, float] = {}
    at_tempo, at_leisure = account.parts(rows), account.leisure_parts(rows)
    for name, effort in at_leisure.items():
        found[kind_of(name)] = found.get(kind_of(name), 0.0) + effort
    haste = sum(at_tempo.values()) - sum(at_leisure.values())
    if haste:
        found[ReasonKind.TEMPO] = haste
    return found


# Weights of a note itself; all others are those of the move on from it.
_OF_NOTES = frozenset(
    {"draw_bend_1", "draw_bend_2", "draw_bend_3", "blow_bend_1", "blow_bend_2", "valved_bend",
     "overblow", "overdraw", "low_draw", "high_hole", "missing_note"}
)  # fmt: skip


_SLIGHT = 0.2  # of the hardest spot: what is less is not worth telling
_RUN = 3  # so many turning moves without a leap are told together


def _spots(account: Account, rows: Sequence[int]) -> tuple[Spot, ...]:
    """The hardest notes, moves and runs of a bar played once, each told once."""
    ornament = np.array([kind_of(name) is ReasonKind.ORNAMENTS for name in account.names], bool)
    of_note = np.array([name in _OF_NOTES for name in account.names], bool)
    spots: dict[str, float] = {}
    turning: list[tuple[Moment, float, str]] = []
    seen: set[str] = set()
    for row in rows:
        moment, units = account.moments[row], account.units[row]
        if moment.note.id in seen:
            continue
        seen.add(moment.note.id)
        move = int(units[~of_note & ~ornament].sum()) / SCALE
        words = _move_words(moment)
        if moment.turns and not moment.leap and moment.plain:
            turning.append((moment, move, words))
            move = 0.0
        for told, effort in (
            (_note_words(moment), int(units[of_note].sum()) / SCALE),
            (_ornament_words(moment), int(units[ornament].sum()) / SCALE),
            (words, move),
        ):
            if told and effort:
                spots[told] = spots.get(told, 0.0) + effort
    if len(turning) >= _RUN:
        spots[_run_words(turning, len(seen))] = sum(effort for _, effort, _ in turning)
    else:
        for _, effort, words in turning:
            spots[words] = spots.get(words, 0.0) + effort
    hardest = sorted(spots.items(), key=lambda item: -item[1])
    return tuple(
        Spot(words, effort)
        for words, effort in hardest[:MOST_SPOTS]
        if effort >= _SLIGHT * hardest[0][1]
    )


def _run_words(turning: Sequence[tuple[Moment, float, str]], moves: int) -> str:
    """`the breath turns on 6 of 8 moves, at 0.16 s`."""
    times = [moment.until_next or 0.0 for moment, _, _ in turning]
    quickest = "the quickest " if max(times) > min(times) + 0.005 else ""
    each = f"{len(turning)} of {moves} moves" if len(turning) < moves else "every move"
    return f"the breath turns on {each}, {quickest}at {min(times):.2f} s"


def _note_words(moment: Moment) -> str:
    """`3 draw bent a whole tone for 0.20 s`."""
    if moment.sounding is None:
        return f"{moment.note.pitch.name}, which is missing"
    return f"{short_words(moment.sounding)} for {moment.seconds:.2f} s"


def _ornament_words(moment: Moment) -> str:
    if moment.sounding is None or not moment.demands:
        return ""
    return f"the ornament on {short_words(moment.sounding)}, in {moment.seconds:.2f} s"


def _move_words(moment: Moment) -> str:
    """`4 draw to 7 blow, a leap while the breath turns, at 0.11 s`."""
    one, two = moment.sounding, moment.following
    if one is None or two is None or moment.until_next is None:
        return ""
    distance = abs(two.hole - one.hole)
    turns = " while the breath turns" if moment.turns else ""
    if moment.leap:
        how = f"a leap{turns or ' in one breath'}"
    elif distance:
        how = f"the next hole{turns or ' in one breath'}"
    elif turns:
        how = "the breath turns in the hole"
    elif one == two:
        how = "the same note again"
    elif two.technique in (Technique.BEND, Technique.VALVED_BEND) and two.bend > one.bend:
        how = f"bent down by {bend_words(two.bend - one.bend)}"
    else:
        how = "the bend let up"
    if distance and two.bend:
        how += ", with the bend come to from another hole"
    elif distance and two.technique.overbend:
        how += f", with the {two.technique.value} come to from another hole"
    return f"{short_words(one)} to {short_words(two)}, {how}, at {moment.until_next:.2f} s"
