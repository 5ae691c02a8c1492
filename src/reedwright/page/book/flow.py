"""A tune over several pages: how many systems each of them has, and the space between these.

Public: `Sheet`, `sheets_of`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from reedwright.page.engraving import System
from reedwright.page.fitting import LEAST_GAP, MOST_GAP


class Sheet(NamedTuple):
    """The systems of one page, and the space above each, mm (none above the first)."""

    systems: tuple[System, ...]
    gaps: tuple[float, ...]


def sheets_of(
    systems: Sequence[System], staff: float, first_room: float, room: float, words: float
) -> tuple[Sheet, ...]:
    """As few pages as hold the music and the words after it, each as full as the others.

    `staff`: its height. `first_room`: what the first page has for music; `room`: any other one;
    `words`: the height of what follows the music, which stands on a page of its own (a last sheet
    without music) where that saves no page. All mm.
    """
    least = LEAST_GAP * staff
    for pages in range(1, len(systems) + 2):
        rooms = [first_room, *[room] * (pages - 1)]
        found = _evenly(systems, least, [*rooms[:-1], rooms[-1] - words])
        apart = _evenly(systems, least, rooms[:-1]) if pages > 1 else None
        if found or apart:
            break
    # Where a head leaves no room for a single system, there is nothing better than one a page.
    counts = found or [*(apart or [1] * len(systems)), 0]
    made, start = [], 0
    for number, count in enumerate(counts):
        page = tuple(systems[start : start + count])
        start += count
        last = words if found and number == len(counts) - 1 else 0.0
        left = rooms[number] - last - sum(system.height for system in page)
        gap = min(left / (count - 1), MOST_GAP * staff) if count > 1 else 0.0
        made.append(Sheet(page, (0.0, *[gap] * (count - 1)) if page else ()))
    return tuple(made)


def _evenly(systems: Sequence[System], gap: float, rooms: Sequence[float]) -> list[int] | None:
    """How many systems each page has, where the fullest is least full; None where they do not fit.

    Each page has one at least.
    """
    count = len(systems)
    best: list[tuple[float, list[int]] | None] = [(0.0, []), *[None] * count]
    for room in rooms:
        following: list[tuple[float, list[int]] | None] = [None] * (count + 1)
        for start, before in enumerate(best):
            if before is None:
                continue
            height = -gap
            for end in range(start + 1, count + 1):
                height += systems[end - 1].height + gap
                if height > room:
                    break
                way = (max(before[0], height / room), [*before[1], end - start])
                known = following[end]
                if known is None or way[0] < known[0]:
                    following[end] = way
        best = following
    last = best[count]
    return last[1] if last else None
