"""Repeats found: bars that come again are written once, in the reading that most passes share.

Public: `fold`, `Section`, `Line`.

Bars are compared by the pitch that sounds at each moment and by where notes begin; cuts do
not count. First it is seen whether the whole tune goes round several times; then, by dynamic
programming, the cheapest way to write it: each bar written costs 1, each section a little,
repeats save what they play again, variant endings of one or two bars are allowed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.takes.transcribing.model import Placed

Array = npt.NDArray[np.float64]

# Our own judgement, tried on takes of other tunes.
SLOT = 3  # ticks: how finely bars are compared
SAME_BAR = 0.55  # likeness of two passes of one bar that may be told as one
SAME_PASS = 0.8  # likeness of two passes on the whole
SAME_ENDING = 0.8  # of the last bars: below it they are variant endings
SAME_TUNE = 0.75  # of two rounds of the whole tune
SECTION_COST = 1.2  # of a section, in written bars
ODD_LENGTH_COST = 1.0  # of one that is not 4, 8 or 16 bars
UNLIKE_COST = 3.0  # of a bar told as one whose passes have nothing in common
USUAL_LENGTHS = (8, 4, 16)
LONGEST_SECTION, SHORTEST_SECTION = 24, 2  # bars
MOST_PASSES = 4
LONGEST_ENDING = 2  # bars
SHORTEST_ROUND = 24  # bars of a whole tune that goes round twice
SHORTEST_OFTEN_ROUND = 16  # and of one that does so three times


class Section(NamedTuple):
    """Bars written once: `first` is the first bar of the (consensus) line, `length` how many
    they are, `passes` how often they are played, `ending` how many bars at the end differ
    from pass to pass (0 for none)."""

    first: int
    length: int
    passes: int
    ending: int


class Line:
    """The tune as a line of bars.

    `bars[k]` are the notes of bar k, onsets in ticks within it, which begins `lead` ticks before
    its bar line (so that an anacrusis goes with what follows). `heard[k]` are all the
    passes that were heard of it, `agreement[k]` how alike they are (1: all the same).
    `upbeat` is how many ticks of an anacrusis are all that the first bar holds (0 for none).
    """

    def __init__(
        self, bars: list[tuple[Placed, ...]], bar: int, lead: int, upbeat: int = 0
    ) -> None:
        self.upbeat = upbeat
        self.bars = bars
        self.bar = bar
        self.lead = lead
        self.heard: list[int] = [1] * len(bars)
        self.agreement: list[float] = [1.0] * len(bars)

    @classmethod
    def of(cls, notes: Sequence[Placed], bar: int, lead: int) -> Line:
        """Cut notes (onsets from the first bar line, an anacrusis negative) into bars."""
        count = max((n.onset + lead) // bar for n in notes) + 1
        first = min(0, min((n.onset + lead) // bar for n in notes))
        bars: list[list[Placed]] = [[] for _ in range(count - first)]
        for note in notes:
            k, within = divmod(note.onset + lead, bar)
            bars[k - first].append(note._replace(onset=within))
        upbeat = -first * bar and bar - min(n.onset for n in bars[0])
        if upbeat and bars[-1]:  # there the last note has the bar to its end
            bars[-1][-1] = bars[-1][-1]._replace(length=bar - bars[-1][-1].onset)
        return cls([tuple(each) for each in bars], bar, lead, upbeat)

    def likeness(self) -> Array:
        """How alike every two bars are, 0 to 1: (bars, bars)."""
        slots = self.bar // SLOT
        sounds = np.zeros((len(self.bars), slots), dtype=np.int16)
        begins = np.zeros((len(self.bars), slots), dtype=bool)
        now = 0
        for k, notes in enumerate(self.bars):
            at = 0
            for note in notes:
                slot = min(slots - 1, round(note.onset / SLOT))
                sounds[k, at:slot] = now
                begins[k, slot] = True
                now, at = note.midi, slot
            sounds[k, at:] = now
        same = np.empty((len(self.bars), len(self.bars)))
        for k in range(len(self.bars)):
            pitch = (sounds == sounds[k]).mean(axis=1)
            onset = (begins == begins[k]).mean(axis=1)
            same[k] = pitch * (0.5 + 0.5 * onset)
        return same


def fold(notes: Sequence[Placed], bar: int, anacrusis: int) -> tuple[Line, list[Section], int]:
    """The line of bars, its sections, and how many rounds of the whole tune there were.

    Sections begin at bar lines or at the anacrusis before them, whichever folds better.
    """
    tried = []
    for lead in dict.fromkeys((anacrusis, 0)):
        line = Line.of(notes, bar, lead)
        rounds = 1
        likeness = line.likeness()
        around = _round(likeness)
        if around:
            rounds = max(2, round(len(line.bars) / around))
            line, likeness = _merged_rounds(line, likeness, around)
        apart = 1 if line.upbeat else 0
        cost, sections = _sections(likeness[apart:, apart:])
        if apart:
            sections = [Section(0, 1, 1, 0)] + [s._replace(first=s.first + 1) for s in sections]
        tried.append((cost + (0.5 if lead == 0 and anacrusis else 0.0), line, sections, rounds))
    _, line, sections, rounds = min(tried, key=lambda entry: entry[0])
    likeness = line.likeness()
    for section in sections:
        _merge_section(line, likeness, section)
    return line, sections, rounds


def _round(likeness: Array) -> int:
    """After how many bars the whole tune begins again; 0 where it does not."""
    count = len(likeness)
    for length in range(SHORTEST_OFTEN_ROUND, count // 2 + 2):
        rounds = round(count / length)
        least = SHORTEST_ROUND if rounds < 3 else SHORTEST_OFTEN_ROUND
        if length < least or rounds < 2 or abs(count - rounds * length) > 1:
            continue
        if float(np.mean(np.diagonal(likeness, length))) >= SAME_TUNE:
            return length
    return 0


def _merged_rounds(line: Line, likeness: Array, around: int) -> tuple[Line, Array]:
    """One round, of each bar the reading that is most like the others'."""
    chosen: list[int] = []
    agreement: list[float] = []
    heard: list[int] = []
    for k in range(around):
        members = list(range(k, len(line.bars), around))
        best, agreed = _medoid(line, likeness, members)
        chosen.append(best)
        agreement.append(agreed)
        heard.append(len(members))
    merged = Line([line.bars[k] for k in chosen], line.bar, line.lead, line.upbeat)
    merged.agreement, merged.heard = agreement, heard
    return merged, likeness[np.ix_(chosen, chosen)]


def _medoid(line: Line, likeness: Array, members: Sequence[int]) -> tuple[int, float]:
    """The bar that is most like the others (of two, the cleaner one), and how alike all are."""
    if len(members) == 1:
        return members[0], line.agreement[members[0]]
    among = likeness[np.ix_(members, members)]
    alike = (among.sum(axis=1) - 1) / (len(members) - 1)
    scores = [a + 0.3 * _quality(line.bars[m]) for a, m in zip(alike, members, strict=True)]
    return members[int(np.argmax(scores))], float(alike.mean())


def _quality(notes: Sequence[Placed]) -> float:
    """How cleanly a bar was heard, 0 to 1."""
    if not notes:
        return 0.0
    sure = sum(n.surety for n in notes) / len(notes)
    off = sum(min(abs(n.error), 0.05) for n in notes) / len(notes) / 0.05
    return sure * (1 - 0.5 * off)


def _sections(likeness: Array) -> tuple[float, list[Section]]:
    """The cheapest way to write a line of bars."""
    count = len(likeness)
    best = [0.0] + [float("inf")] * count
    came: list[Section | None] = [None] * (count + 1)
    for end in range(1, count + 1):
        for length in range(1, min(LONGEST_SECTION, end) + 1):
            first = end - length
            cost = best[first] + _cost(length, 1, 0)
            if cost < best[end]:
                best[end], came[end] = cost, Section(first, length, 1, 0)
        for length in range(SHORTEST_SECTION, min(LONGEST_SECTION, end // 2) + 1):
            for passes in range(2, min(MOST_PASSES, end // length) + 1):
                first = end - length * passes
                ending, unlike = _ending(likeness, first, length, passes)
                if ending < 0:
                    break
                cost = best[first] + _cost(length, passes, ending) + UNLIKE_COST * unlike
                if cost < best[end] - 1e-9:
                    best[end], came[end] = cost, Section(first, length, passes, ending)
    sections: list[Section] = []
    at = count
    while at > 0:
        section = came[at]
        assert section is not None
        sections.append(section)
        at = section.first
    return best[count], sections[::-1]


def _cost(length: int, passes: int, ending: int) -> float:
    odd = 0.0 if length in USUAL_LENGTHS else ODD_LENGTH_COST
    return length + ending * (passes - 1) + SECTION_COST + odd + (0.4 if ending else 0.0)


def _ending(likeness: Array, first: int, length: int, passes: int) -> tuple[int, float]:
    """How many bars at the end differ, and how unlike the others are in all; -1 for passes
    that are not the same."""
    alike = np.ones(length)
    for p in range(1, passes):
        rows = np.arange(first, first + length)
        alike = np.minimum(alike, likeness[rows, rows + p * length])
    ending = 0
    for k in range(1, min(LONGEST_ENDING, length - 1) + 1):
        if alike[length - k] < SAME_ENDING:
            ending = k
    if ending and (passes != 2 or length < 4):
        ending = 0
    common = alike[: length - ending]
    if float(common.min()) < SAME_BAR or float(common.mean()) < SAME_PASS:
        return -1, 0.0
    return ending, float((1 - common).sum())


def _merge_section(line: Line, likeness: Array, section: Section) -> None:
    """Put the best reading of each repeated bar in the place of its first pass."""
    if section.passes == 1:
        return
    old, heard, agreement = list(line.bars), list(line.heard), list(line.agreement)
    for k in range(section.length - section.ending):
        members = [section.first + p * section.length + k for p in range(section.passes)]
        best, alike = _medoid(line, likeness, members)
        line.bars[members[0]] = old[best]
        line.heard[members[0]] = sum(heard[m] for m in members)
        line.agreement[members[0]] = min(alike, agreement[best])
