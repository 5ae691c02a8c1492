"""Parts and rounds: which part each bar of the music belongs to, and what was left out.

The parts that the take plays are laid along the parts of the tune, round after round, so that
least is left out and played again.

Public: `make_rounds`, `Rounds`.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby, pairwise
from typing import NamedTuple

from reedwright.tab.words import bars_text, ordinal_word
from reedwright.takes.following.played import PlayedBar
from reedwright.takes.following.score import PartSpan, Score

_AGAIN = 1.0  # what it costs in the alignment to play a part once more
_LEFT_OUT = 1.0  # and to leave one out
_ENDS_EARLY = 0.5  # and to leave one out at the end of all


class Rounds(NamedTuple):
    """By bar of the music: the part's letter, which time through it, and the round.

    `skipped` says in words what was left out or played again.
    """

    letters: list[str]
    times: list[int]
    rounds: list[int]
    skipped: tuple[str, ...]


class _Instance(NamedTuple):
    """A part once: its letter, the parts of the tune that it may be, its bars of the music."""

    letter: str
    spans: tuple[int, ...]
    first: int
    last: int


class _Laid(NamedTuple):
    """An instance laid along the tune: which part it is, in which round; `again`: once more."""

    span: int
    round: int
    again: bool


def make_rounds(score: Score, bars: Sequence[PlayedBar]) -> Rounds:
    """Lay the music along the tune's parts."""
    instances = _instances(score, [bar.bar for bar in bars])
    laid = _lay_along(score.parts, instances)
    letters, times, rounds = [""] * len(bars), [1] * len(bars), [1] * len(bars)
    counts: dict[str, int] = {}
    for instance, place in zip(instances, laid, strict=True):
        counts[instance.letter] = counts.get(instance.letter, 0) + 1
        for bar in range(instance.first, instance.last):
            letters[bar] = instance.letter
            times[bar] = counts[instance.letter]
            rounds[bar] = place.round
    skipped = [*_parts_in_words(score.parts, laid), *_bars_in_words(score, bars)]
    return Rounds(letters, times, rounds, tuple(skipped))


def _instances(score: Score, bars: list[int]) -> list[_Instance]:
    letter_of: dict[int, str] = {}
    spans_of: dict[int, list[int]] = {}
    for k, part in enumerate(score.parts):
        for bar in part.bars:
            letter_of.setdefault(bar, part.letter)
            if part.letter == letter_of[bar] and k not in spans_of.setdefault(bar, []):
                spans_of[bar].append(k)
    begins = {part.bars[0] for part in score.parts}
    second = {part.bars[1]: part.bars[0] for part in score.parts if len(part.bars) > 1}
    within = {pair for part in score.parts for pair in pairwise(part.bars)}
    cuts = [
        k
        for k, (one, two) in enumerate(pairwise(bars), start=1)
        if (one, two) not in within
        and (
            letter_of.get(two, "") != letter_of.get(one, "")
            or two <= one
            or two in begins
            or (two in second and one != second[two])
        )
    ]
    edges = [0, *cuts, len(bars)] if bars else []
    found: list[_Instance] = []
    for first, last in pairwise(edges):
        inside = [k for bar in bars[first:last] for k in spans_of.get(bar, ())]
        # The parts that hold most of its bars: the second ending tells which time it is.
        most = max((inside.count(k) for k in inside), default=0)
        spans = tuple(k for k in dict.fromkeys(inside) if inside.count(k) == most)
        found.append(_Instance(letter_of.get(bars[first], ""), spans, first, last))
    return found


def _lay_along(parts: tuple[PartSpan, ...], instances: list[_Instance]) -> list[_Laid]:
    """The assignment to parts and rounds that leaves out and repeats least."""
    if not parts:
        return [_Laid(0, 1, False) for _ in instances]
    table: list[dict[int, tuple[float, int, bool, bool]]] = []
    for instance in instances:
        here: dict[int, tuple[float, int, bool, bool]] = {}
        for span in instance.spans or (len(parts) - 1,):
            if not table:
                here[span] = (_LEFT_OUT * span, -1, False, False)
                continue
            for before, (cost, *_) in table[-1].items():
                for more, again, wraps in _moves(parts, before, span):
                    # Ties go to the order of this loop: on, then again, then round.
                    if span not in here or cost + more < here[span][0] - 1e-9:
                        here[span] = (cost + more, before, again, wraps)
        table.append(here)
    if not table:
        return []
    at = min(table[-1], key=lambda k: table[-1][k][0] + _ENDS_EARLY * (len(parts) - 1 - k))
    way: list[tuple[int, bool, bool]] = []
    for here in reversed(table):
        _, before, again, wraps = here[at]
        way.append((at, again, wraps))
        at = before
    laid: list[_Laid] = []
    number = 1
    for span, again, wraps in reversed(way):
        number += wraps
        laid.append(_Laid(span, number, again))
    return laid


def _moves(parts: tuple[PartSpan, ...], before: int, span: int) -> list[tuple[float, bool, bool]]:
    """From one part to the next: (cost, played again, into the next round)."""
    if span > before:
        return [(_LEFT_OUT * (span - before - 1), False, False)]
    moves = [(_LEFT_OUT * (len(parts) - 1 - before + span), False, True)]
    if parts[span].letter == parts[before].letter and len(parts) > 1:
        moves.insert(0, (_AGAIN, True, False))
    return moves


def _parts_in_words(parts: tuple[PartSpan, ...], laid: list[_Laid]) -> list[str]:
    """What was left out or played again, round by round."""
    if not laid:
        return []
    rounds = laid[-1].round
    said: list[str] = []
    for number in range(1, rounds + 1):
        inside = [each for each in laid if each.round == number]
        played = {each.span for each in inside}
        when = f", {ordinal_word(number)} time round" if rounds > 1 else ""
        wanted = list(range(len(parts)))
        runs = [list(run) for _, run in groupby(wanted, key=lambda k: parts[k].letter)]
        for run in runs:
            letter = parts[run[0]].letter
            missing = [k for k in run if k not in played]
            if not missing:
                continue
            if len(missing) < len(run):
                said.append(f"the repeat of part {letter} was left out{when}")
            else:
                said.append(f"part {letter} was left out{when}")
        for letter in dict.fromkeys(parts[each.span].letter for each in inside if each.again):
            count = sum(each.again and parts[each.span].letter == letter for each in inside)
            more = "once more" if count == 1 else f"{count} times more"
            said.append(f"part {letter} was played {more} than written{when}")
    return said


def _bars_in_words(score: Score, bars: Sequence[PlayedBar]) -> list[str]:
    """Bars that were jumped over within a part."""
    order = [played.bar.index for played in score.performance.bars]
    follows = set(pairwise(order))
    part_of = {bar: k for k, part in enumerate(score.parts) for bar in part.bars}
    said = []
    for one, two in pairwise(bars):
        if one.run == two.run or (one.bar, two.bar) in follows or two.bar <= one.bar + 1:
            continue
        if part_of.get(one.bar) != part_of.get(two.bar):
            continue
        numbers = [score.bars[k].number for k in range(one.bar + 1, two.bar)]
        verb = "was" if len(set(numbers)) == 1 else "were"
        said.append(f"{bars_text(numbers)} {verb} left out")
    return said
