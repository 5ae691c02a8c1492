"""Which written bars are played, in which order: repeats, endings, parts and jumps.

Public: `play_order`, `PlayedIndex`, `EndlessTune`.

The rules, in the order in which they are applied
-------------------------------------------------
* A part order (`P:` in the header) puts the labelled parts one after another.
  A part's bars go from its label to the next label. Bars before the first label
  are played once, at the start. A label that the body lacks is passed over;
  where the body has none of them, or spells the whole order out, the bars are
  played as they stand. (ABC standard 2.1, section 3.1.9.)
* A repeat goes back to its start-repeat. Where that is missing it goes back to
  the last place a section began: after the last repeat end, after a double,
  final or opening bar line, at a part label, or at the tune's start.
* A section with variant endings is played as often as its highest ending says,
  another one as often as its repeat sign says (`:|` twice, `::|` three times).
  An ending is played on the passes that it lists and left out on the others.
  Without repeat signs too the music goes back until every ending has been played;
  no section begins between two endings of one group.
* An ending reaches up to the next ending, repeat sign or double bar line. The last
  one of a group, where nothing closes it, is as many bars long as the first.
* A jump (D.C., D.S.) is taken once, the last time its bar is played. After it
  repeats are not taken again, and of variant endings the last is played; it
  ends at the fine, or leaves at the to-coda sign for the coda (common practice,
  no source). Where a tune has two coda signs and no to-coda, the first is that.
  Where it has no fine, a fermata on the last note or rest before a double bar line
  is one, as old tune books print it. A D.C. (or a D.S. without its sign) that neither
  fine nor coda would end is not taken: it only says that the tune goes round again,
  which every dance may.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.tune.model import Bar, BarLine, Change

MAX_PLAYED_BARS = 50_000
"""More than any tune: about a day of reels. Stops part orders that multiply without end."""

_SECTION_ENDS = frozenset((BarLine.DOUBLE, BarLine.FINAL))
_JUMPS = frozenset(("dacapo", "dalsegno"))
_ENDS_AFTER_JUMP = frozenset(("fine", "tocoda"))
_SHORTEST_SECTION = 4
"""Bars (common practice, no source) that a repeat end after an unclosed ending must enclose."""


class EndlessTune(ReedwrightError):
    """The repeats and part order multiply to a tune that nobody could play."""


class PlayedIndex(NamedTuple):
    """A bar's index in its voice, and the pass (from 1) through its section."""

    bar_index: int
    pass_number: int


def play_order(bars: Sequence[Bar], part_order: Sequence[str] = ()) -> list[PlayedIndex]:
    """The bars of one voice in the order in which they are played.

    Raises `EndlessTune` beyond `MAX_PLAYED_BARS`.
    """
    spans = _part_spans(bars, part_order)
    parts = _play_spans(bars, spans)
    if any(bar.marks for bar in bars):
        return _with_jumps(bars, parts)
    return [bar for part in parts for bar in part]


def _part_spans(bars: Sequence[Bar], part_order: Sequence[str]) -> list[range]:
    """The runs of bars between part labels, in the order in which they are played."""
    whole = [range(len(bars))]
    if not part_order:
        return whole
    starts = [i for i, bar in enumerate(bars) if bar.part is not None]
    labels = [bars[i].part for i in starts]
    if not starts or labels == list(part_order):
        return whole
    parts: dict[str | None, range] = {}
    for start, stop, label in zip(starts, [*starts[1:], len(bars)], labels, strict=True):
        parts.setdefault(label, range(start, stop))
    spans = [parts[label] for label in part_order if label in parts]
    if not spans:
        return whole
    if starts[0] > 0:
        spans.insert(0, range(starts[0]))
    return spans


def _play_spans(bars: Sequence[Bar], spans: list[range]) -> list[list[PlayedIndex]]:
    """Each part played out, in order. A part that comes again is worked out once."""
    done: dict[range, list[PlayedIndex]] = {}
    length = 0
    for span in spans:
        if span not in done:
            done[span] = _play_span(bars, span)
        length += len(done[span])
        _check_length(length)
    return [done[span] for span in spans]


def _check_length(length: int) -> None:
    if length > MAX_PLAYED_BARS:
        raise EndlessTune(
            f"the repeats and the part order make more than {MAX_PLAYED_BARS} bars: "
            "look for a repeat number or a P: line that is not meant"
        )


class _Ending(NamedTuple):
    """A variant ending: the bar after it, and what holds for its whole group.

    `first` of its group. `heard_by`: the pass by which every ending of the group has been played.
    """

    first: bool
    stop: int
    group_stop: int
    group_passes: int
    group_numbers: frozenset[int]
    heard_by: int


def _play_span(bars: Sequence[Bar], span: range) -> list[PlayedIndex]:
    """Play the bars of one part, every section as often as it is repeated."""
    endings = _find_endings(bars, span)
    played: list[PlayedIndex] = []
    start = i = span.start  # `start`: where a repeat end goes back to
    pass_number = 1
    opened = False  # a start-repeat stands whose end has not come
    arrived = True  # going forward, not just gone back
    ending: _Ending | None = None
    while i < span.stop:
        bar = bars[i]
        if bar.ending and not endings[i].first:
            arrived = False  # signs between the endings of a group begin no section
        if arrived and bar.repeat_open:
            if opened and i > start and pass_number == 1:
                i, pass_number, arrived, ending = start, 2, False, None
                continue
            start, pass_number, opened, ending = i, 1, True, None
        elif arrived and i > start and _section_begins(bars, i) and not opened:
            start, pass_number, ending = i, 1, None
        arrived = True
        if bar.ending:
            ending = endings[i]
            if _left_out(bar, ending, pass_number):
                i = ending.stop
                if i == ending.group_stop:
                    start, pass_number, opened, ending = i, 1, False, None
                continue
        played.append(PlayedIndex(i, pass_number))
        _check_length(len(played))
        leaves = ending is not None and i + 1 == ending.stop
        passes = ending.group_passes if ending is not None else bar.repeat_close
        # Without a repeat sign too it must be meant to go back where another ending waits.
        waits = leaves and ending is not None and pass_number < ending.heard_by
        if (bar.repeat_close or waits) and pass_number < passes:
            pass_number += 1
            i, arrived, ending = start, False, None
            continue
        i += 1
        if leaves and ending is not None:
            i = ending.group_stop
        if leaves or bar.repeat_close:
            start, pass_number, opened, ending = i, 1, False, None
    return played


def _section_begins(bars: Sequence[Bar], i: int) -> bool:
    return (
        bars[i].part is not None
        or bars[i].opening is BarLine.OPENING
        or bars[i - 1].closing in _SECTION_ENDS
    )


def _left_out(bar: Bar, ending: _Ending, pass_number: int) -> bool:
    """Whether this pass leaves the ending out. No ending is left out on every pass."""
    if pass_number in bar.ending:
        return False
    return pass_number in ending.group_numbers or pass_number > max(ending.group_numbers)


def _find_endings(bars: Sequence[Bar], span: range) -> dict[int, _Ending]:
    """The variant endings of a part by the index of their first bar."""
    endings: dict[int, _Ending] = {}
    i = span.start
    while i < span.stop:
        if not bars[i].ending:
            i += 1
            continue
        starts: list[int] = []
        stops: list[int] = []
        numbers: set[int] = set()
        while i < span.stop and bars[i].ending and numbers.isdisjoint(bars[i].ending):
            starts.append(i)
            numbers.update(bars[i].ending)
            i = _natural_stop(bars, i, span)
            stops.append(i)
        i = stops[-1] = _last_stop(bars, starts, stops)
        passes = max(numbers)
        if len(starts) == 1 and bars[i - 1].repeat_close:
            passes += 1  # the other ending is what follows, unmarked
        heard_by = max(min(bars[start].ending) for start in starts) if len(starts) > 1 else 1
        for start, stop in zip(starts, stops, strict=True):
            endings[start] = _Ending(
                start == starts[0], stop, i, passes, frozenset(numbers), heard_by
            )
    return endings


def _natural_stop(bars: Sequence[Bar], start: int, span: range) -> int:
    """The bar after the ending that begins at `start`, by its signs."""
    for i in range(start, span.stop - 1):
        bar, following = bars[i], bars[i + 1]
        if (
            bar.ending_last
            or bar.repeat_close
            or bar.closing in _SECTION_ENDS
            or following.ending
            or following.repeat_open
            or following.part is not None
        ):
            return i + 1
    return span.stop


def _last_stop(bars: Sequence[Bar], starts: list[int], stops: list[int]) -> int:
    """Where the last ending of a group stops: a far repeat end belongs to the next section."""
    stop = stops[-1]
    first_length = stops[0] - starts[0]
    meant = starts[-1] + first_length
    if len(starts) > 1 and bars[stop - 1].repeat_close and stop - meant >= _SHORTEST_SECTION:
        return meant
    return stop


def _last_passes(played: list[PlayedIndex]) -> list[PlayedIndex]:
    """Every section on its last pass alone, from a part played out with all its repeats."""
    kept: list[PlayedIndex] = []
    for bar in reversed(played):
        if not kept or bar.bar_index < kept[-1].bar_index:
            kept.append(bar)
    return kept[::-1]


def _with_jumps(bars: Sequence[Bar], parts: list[list[PlayedIndex]]) -> list[PlayedIndex]:
    """Take each jump once, on the last time that its bar comes by."""
    signs = _signs(bars)
    route = [bar for part in parts for bar in part]
    plain = [bar for part in parts for bar in _last_passes(part)]
    last_visit = {bar.bar_index: k for k, bar in enumerate(route)}
    played: list[PlayedIndex] = []
    taken: set[int] = set()
    k = 0
    while k < len(route):
        bar = route[k]
        played.append(bar)
        marks = signs[bar.bar_index]
        k += 1
        if taken and "fine" in marks:
            break
        if taken and "tocoda" in marks:
            k = _find(signs, route, "coda", k)
            continue
        jump = _JUMPS & marks
        if jump and bar.bar_index not in taken and last_visit[bar.bar_index] == k - 1:
            taken.add(bar.bar_index)
            route = plain
            last_visit = {b.bar_index: n for n, b in enumerate(route)}
            k = _find(signs, route, "segno", 0) if "dalsegno" in jump else 0
    _check_length(len(played))
    return played


def _signs(bars: Sequence[Bar]) -> list[frozenset[str]]:
    """The marks of each bar, with a to-coda and a fine found where other signs stand for them."""
    signs = [frozenset(bar.marks) for bar in bars]
    codas = [i for i, marks in enumerate(signs) if "coda" in marks]
    if len(codas) > 1 and not any("tocoda" in marks for marks in signs):
        signs[codas[0]] = signs[codas[0]] - {"coda"} | {"tocoda"}
    jumps = [i for i, marks in enumerate(signs) if marks & _JUMPS]
    if jumps and not any("fine" in marks for marks in signs):
        held = [i for i in range(jumps[-1]) if _ends_on_fermata(bars[i])]
        if len(held) == 1:
            signs[held[0]] |= {"fine"}
    if not any(marks & _ENDS_AFTER_JUMP for marks in signs):
        back_to_a_sign = any("segno" in marks for marks in signs)
        idle = {"dacapo"} if back_to_a_sign else _JUMPS
        return [marks - idle for marks in signs]
    return signs


def _ends_on_fermata(bar: Bar) -> bool:
    last = next((e for e in reversed(bar.events) if not isinstance(e, Change)), None)
    return last is not None and "fermata" in last.decorations and bar.closing in _SECTION_ENDS


def _find(signs: list[frozenset[str]], route: list[PlayedIndex], mark: str, default: int) -> int:
    """Where the route first comes to a mark, from `default` on; `default` if nowhere."""
    for k in range(default, len(route)):
        if mark in signs[route[k].bar_index]:
            return k
    return default
