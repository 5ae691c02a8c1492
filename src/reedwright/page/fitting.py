"""How large the music is set: as generously as the page allows.

Every size of staff has its best ways to break; each such plan is weighed by its size,
its evenness and its density, and the best one that fits is engraved. Lengths are mm.

Public: `Setting`, `fitted`, `might_fit_small`, `flowing`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from reedwright.page.engraving import SMALLEST_TAB, Engraver, Look, Plan, System

# Heights of the staff to try. Printed dance music has 5 to 7 mm (common practice); a page
# on a music stand is read at arm's length, so where there is room it is set larger.
STAVES = tuple(round(7.6 - 0.2 * step, 1) for step in range(12))  # 7.6 to 5.4
SMALL_STAVES = (5.2, 4.8)  # with the smallest tab, where no other fits
FLOWING_STAVES = STAVES[:7]  # 7.6 to 6.4, for a tune that takes several pages anyway
TAB_SHARE = 1.667  # points of tab to a millimetre of staff: 9 at 5.4, 12.7 at 7.6
# What a smaller staff costs, by the square of millimetres lost; in the units of `breaking`.
SIZE_COST = 0.07
# Bars stretched beyond this density look lost; by the square of what is lacking.
LOOSE, LOOSE_COST = 0.62, 8.0
# A page that is filled less than this, with the most space there is between systems, has room
# for more and larger ones; by the square of what is lacking.
EMPTY, EMPTY_COST = 0.8, 1.5
# Space between systems, in heights of a staff, and the least there is on a full page.
LEAST_GAP, MOST_GAP, TIGHT_GAP = 0.4, 1.3, 1.2
MOST_SECTION_GAP = 6.0  # added between the page's sections
FLOWING_SHARE = 0.93  # of the pages' room: systems do not fill a page to the last millimetre
SECTIONS = 3  # places that it is added: above the music, below it, and below the tab's key
TYPICAL_HEIGHT = 2.6  # of a system, in heights of a staff
# The height of a system as a share of that of all the music in one line: before one is
# engraved, and at the least (measured in the 1850 collection).
TYPICAL_SHARE, LEAST_SHARE = 0.9, 0.8
TRIES = 3  # engravings before the estimate is taken with more care


class Setting(NamedTuple):
    """Music that is ready for the page: for each system the space above it, and that which
    is added between sections."""

    systems: tuple[System, ...]
    gaps: tuple[float, ...]
    section_gap: float
    staff: float


def fitted(engraver: Engraver, room: float, staves: Sequence[float]) -> Iterator[Setting]:
    """Settings of all the music that fit into `room`, the most beautiful first.

    After the first engraving others' heights are reckoned from it, so that few are made.
    """
    each = 0.0
    tries = 0
    for plan in _plans(engraver, staves, room):
        gap = _least_gap(plan.look)
        each = each or TYPICAL_SHARE * engraver.measured(plan.look).height
        between = gap * (plan.systems - 1)
        care = 1.02 if tries < TRIES else 0.98
        if plan.systems * each * plan.look.staff + between > room * care:
            continue
        systems = engraver.engrave(plan)
        tries += 1
        height = sum(system.height for system in systems)
        each = height / len(systems) / plan.look.staff
        if height + between <= room:
            yield _spaced(systems, plan.look, room - height - between)


def might_fit_small(engraver: Engraver, room: float) -> bool:
    """Whether it is worth while to measure the music for the smallest staves.

    Their tab is no smaller than that of the smallest ordinary staff, so they save little
    width; a tenth is allowed for.
    """
    look = Look(STAVES[-1], SMALLEST_TAB)
    line = engraver.measured(look)
    total = sum(bar.width for bar in line.bars)
    systems = 0.9 * total / (engraver.width * look.millimetre - line.lead)
    return systems * LEAST_SHARE * line.height * SMALL_STAVES[-1] <= room


def _spaced(systems: tuple[System, ...], look: Look, left: float) -> Setting:
    """What is left is shared out among systems and sections, up to what still looks well."""
    least, most = _least_gap(look), MOST_GAP * look.staff
    count = len(systems) - 1
    share = min(1.0, left / (count * (most - least) + SECTIONS * MOST_SECTION_GAP))
    gap = least + share * (most - least)
    return Setting(systems, (0.0, *[gap] * count), share * MOST_SECTION_GAP, look.staff)


def flowing(
    engraver: Engraver,
    first_room: float,
    page_room: float,
    words: float,
    staves: Sequence[float] = FLOWING_STAVES,
) -> Setting:
    """A setting over as few pages as a comfortable size takes; each but the last is filled.

    `first_room`: what the first page has for music; `page_room`: any other; `words`: the
    height of what follows the music; `staves`: heights that are comfortable.
    """
    plans: list[Plan] = []
    room = first_room - words
    while not plans:
        room += page_room
        for plan in _plans(engraver, staves, room):
            height = TYPICAL_SHARE * engraver.measured(plan.look).height * plan.look.staff
            if plan.systems * (height + _least_gap(plan.look)) <= room * FLOWING_SHARE:
                plans.append(plan)
                break
    (plan,) = plans
    systems = engraver.engrave(plan)
    least, most = _least_gap(plan.look), MOST_GAP * plan.look.staff
    gaps: list[float] = []
    for number, page in enumerate(_pages(systems, least, first_room, page_room)):
        gap = (least + most) / 2
        if page[-1] is not systems[-1] and len(page) > 1:
            left = (page_room if number else first_room) - sum(system.height for system in page)
            gap = min(left / (len(page) - 1), MOST_GAP * 1.3 * plan.look.staff)
        gaps += [0.0, *[gap] * (len(page) - 1)]
    return Setting(systems, tuple(gaps), MOST_SECTION_GAP / 2, plan.look.staff)


def _pages(
    systems: Sequence[System], gap: float, first_room: float, page_room: float
) -> list[list[System]]:
    """Which systems stand on each page, as many as it holds."""
    pages: list[list[System]] = [[]]
    room, used = first_room, 0.0
    for system in systems:
        if pages[-1] and used + gap + system.height > room:
            pages.append([])
            room, used = page_room, 0.0
        used += system.height + (gap if pages[-1] else 0.0)
        pages[-1].append(system)
    return pages


def _plans(engraver: Engraver, staves: Sequence[float], room: float) -> list[Plan]:
    """All plans for these staves, the most beautiful in this `room` first."""
    plans: list[Plan] = []
    for staff in staves:
        look = Look(staff, max(SMALLEST_TAB, round(staff * TAB_SHARE, 3)))
        height = LEAST_SHARE * engraver.measured(look).height * staff
        plans += engraver.plans(look, int(room / height))
    return sorted(plans, key=lambda plan: _ugliness(plan, room))


def _ugliness(plan: Plan, room: float) -> float:
    staff = plan.look.staff
    loose = max(0.0, LOOSE - plan.breaking.mean)
    if plan.systems == 1:  # a single line is not stretched to the margin
        loose = 0.0
    height = staff * (plan.systems * TYPICAL_HEIGHT + (plan.systems - 1) * MOST_GAP)
    empty = max(0.0, EMPTY * room - height) / max(room, 1.0)
    return (
        plan.breaking.cost
        + SIZE_COST * (STAVES[0] - staff) ** 2
        + LOOSE_COST * loose**2
        + EMPTY_COST * empty**2
    )


def _least_gap(look: Look) -> float:
    return TIGHT_GAP if look.staff < STAVES[-1] + 0.1 else LEAST_GAP * look.staff
