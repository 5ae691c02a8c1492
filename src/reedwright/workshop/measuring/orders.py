"""Orders in which people play the reeds of a harp one by one, and how they stray from them.

An order is a row of reeds. Along it people go on to the next reed, sound one again, leave one or
two out, leap back to hear some again, or leap anywhere; how likely each is stands below (from
memory; only their rough proportion matters, docs/reed-measuring.md).

Public: `Order`, `OrderError`, `usual_orders`, `asked_orders`, `moves`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from itertools import product
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Breath, Harp, Reed

Array = npt.NDArray[np.float64]

# What follows a reed, before all is scaled to sum to 1.
NEXT = 0.80  # the next of the order; at its end the first one again
AGAIN = 0.06  # the same reed, where people sound each once
OFTEN_AGAIN = 0.80  # the same reed, where they sound each several times
SKIP = 0.04  # one is left out; each further one is half as likely
BACK = 0.03  # back by one; each further one is half as likely
ANYWHERE = 0.03  # any reed
AT_ITS_HEAD = 0.7  # how likely an order is begun at its first reed

UP, DOWN = "up", "down"
BLOW_FIRST, DRAW_FIRST = "blow first", "draw first"
BY_HOLE, BY_BREATH, BY_PITCH = "hole by hole", "breath by breath", "by pitch"
TURNING = "turning"  # 1 blow, 1 draw, 2 draw, 2 blow, 3 blow ...; or up in one breath, down in one
SHUFFLED = "shuffled"

# How likely each order is beforehand, against 1 (from memory). They hardly matter: along its own
# order a recording is a million times likelier than along others.
_USUAL = {(BY_HOLE, BLOW_FIRST, UP): 3.0, (BY_BREATH, BLOW_FIRST, UP): 3.0}

_WORDS: dict[str, str] = {
    "up": UP,
    "upwards": UP,
    "down": DOWN,
    "downwards": DOWN,
    "blow then draw": BLOW_FIRST,
    "blow first": BLOW_FIRST,
    "draw then blow": DRAW_FIRST,
    "draw first": DRAW_FIRST,
    "hole by hole": BY_HOLE,
    "breath by breath": BY_BREATH,
    "by pitch": BY_PITCH,
    "shuffled": SHUFFLED,
    "any": SHUFFLED,
}
_HELP = (
    "say up, down, blow then draw, draw then blow, hole by hole, breath by breath, by pitch, "
    "shuffled (several with commas), or list the reeds: 'blow 1-10, draw 1-10', '1b 1d 2b 2d'"
)


class OrderError(ReedwrightError):
    """An order of reeds that cannot be understood."""


class Order(NamedTuple):
    """A row of reeds and what kind of order it is; `weight` says how usual, against 1.

    `kinds` is empty for one that a user listed. A shuffled order has no row that counts.
    """

    reeds: tuple[Reed, ...]
    kinds: frozenset[str] = frozenset()
    weight: float = 1.0

    @property
    def words(self) -> str:
        """`hole by hole, blow first, up`; `as listed`."""
        known = (BY_HOLE, BY_BREATH, BY_PITCH, BLOW_FIRST, DRAW_FIRST, UP, DOWN, TURNING, SHUFFLED)
        return ", ".join(kind for kind in known if kind in self.kinds) or "as listed"


def usual_orders(harp: Harp) -> tuple[Order, ...]:
    """The orders that people follow, all of them over every reed, a shuffled one last."""
    holes = range(1, harp.tuning.holes + 1)
    found: list[Order] = []
    for way, first in product((UP, DOWN), Breath):
        along = tuple(holes) if way == UP else tuple(reversed(holes))
        start = BLOW_FIRST if first is Breath.BLOW else DRAW_FIRST
        both = (first, first.other)

        def order(reeds: Iterable[Reed], *kinds: str) -> Order:
            weight = _USUAL.get((kinds[0], kinds[1], kinds[2]), 1.0)
            return Order(tuple(reeds), frozenset(kinds), weight)

        found += [
            order((Reed(h, b) for h in along for b in both), BY_HOLE, start, way),
            order(
                (
                    Reed(h, b)
                    for k, h in enumerate(along)
                    for b in (both if k % 2 == 0 else both[::-1])
                ),
                *(BY_HOLE, start, way, TURNING),
            ),
            order((Reed(h, b) for b in both for h in along), BY_BREATH, start, way),
            order(
                (Reed(h, b) for b in both for h in (along if b is first else along[::-1])),
                *(BY_BREATH, start, way, TURNING),
            ),
        ]
        # Of equal notes either breath may come first, more likely that of the hole that is nearer
        # (of 2 draw and 3 blow, going up, the draw).
        by_pitch = sorted(
            (Reed(h, b) for h in holes for b in Breath),
            key=lambda reed: (
                harp.reed_midi(*reed) * (1 if way == UP else -1),
                reed.breath is not first,
                reed.hole * (1 if way == UP else -1),
            ),
        )
        along_the_holes = (way == UP) == (first is Breath.DRAW)
        weight = 0.5 if along_the_holes else 0.2
        found.append(Order(tuple(by_pitch), frozenset({BY_PITCH, start, way}), weight))
    everything = tuple(Reed(h, b) for h in holes for b in Breath)
    return (*found, Order(everything, frozenset({SHUFFLED})))


def asked_orders(text: str, harp: Harp) -> tuple[Order, ...]:
    """The orders that a user's words leave: of the usual ones, or the one row that is listed.

    `blow 1-10, draw 10-1` and `1b 1d 2b` list reeds; `up, draw then blow` chooses among the
    usual orders. Raises `OrderError`.
    """
    if re.search(r"\d", text):
        return (Order(_listed(text, harp)),)
    wanted = set()
    for phrase in filter(None, (part.strip() for part in re.split(r"[,;]", text.lower()))):
        kind = _WORDS.get(" ".join(phrase.split()))
        if kind is None:
            raise OrderError(f"order: '{phrase}' is not understood; {_HELP}")
        wanted.add(kind)
    found = tuple(order for order in usual_orders(harp) if wanted <= order.kinds)
    if not wanted or not found:
        raise OrderError(f"order: '{text}' leaves no order; {_HELP}")
    return found


def moves(order: Order, states: tuple[Reed, ...], repeated: bool) -> Array:
    """What follows what: shape (states + 1, states), each row sums to 1, the last is the start.

    `states` are all reeds of the harp; of an order that a user listed its own row (with what
    stands there twice), then the reeds that it leaves out, which can be reached from anywhere.
    `repeated`: each reed is sounded several times.
    """
    number = len(states)
    if SHUFFLED in order.kinds:
        return np.full((number + 1, number), 1.0 / number)
    if order.kinds:
        where = {reed: place for place, reed in enumerate(order.reeds)}
        place = np.array([where[reed] for reed in states])
    else:
        place = np.arange(number)
    length = len(order.reeds)
    step = (place[None, :] - place[:, None]).astype(float)
    inside = (place < length)[None, :] & (place < length)[:, None]
    weights = np.full((number, number), ANYWHERE / number)
    weights[inside & (step == 1)] += NEXT
    weights[step == 0] += OFTEN_AGAIN if repeated else AGAIN
    ahead, back = inside & (step > 1), inside & (step < 0)
    weights[ahead] += SKIP * 0.5 ** (step[ahead] - 2)
    weights[back] += BACK * 0.5 ** (-step[back] - 1)
    last, first = place == length - 1, place == 0
    weights[np.ix_(last, first)] += NEXT
    start = np.full(number, (1 - AT_ITS_HEAD) / number)
    start[first] += AT_ITS_HEAD
    rows = np.vstack([weights, start])
    whole: Array = rows / rows.sum(axis=1, keepdims=True)
    return whole


def _listed(text: str, harp: Harp) -> tuple[Reed, ...]:
    found: list[Reed] = []
    breath: Breath | None = None
    holes = harp.tuning.holes
    spaced = re.sub(r"\s*[-–]\s*", "-", text.lower())
    if not spaced.lstrip().startswith(("blow", "draw")):  # `1 blow 1 draw`, not `blow 1 2`
        spaced = re.sub(r"(\d)\s*(blow|draw)\b", lambda m: m[1] + m[2][0], spaced)
    for word in re.split(r"[\s,;]+", spaced.strip()):
        if word in ("blow", "draw"):
            breath = Breath(word)
            continue
        match = re.fullmatch(r"(\d{1,3})(?:-(\d{1,3}))?([bd])?", word)
        if match is None:
            raise OrderError(f"order: '{word}' is not understood; {_HELP}")
        said = {"b": Breath.BLOW, "d": Breath.DRAW}.get(match[3] or "", breath)
        if said is None:
            raise OrderError(f"order: is '{word}' blow or draw? {_HELP}")
        first, last = int(match[1]), int(match[2] or match[1])
        if not (1 <= first <= holes and 1 <= last <= holes):
            raise OrderError(f"order: there is no hole {word}; holes are 1 to {holes}")
        way = 1 if last >= first else -1
        found += [Reed(hole, said) for hole in range(first, last + way, way)]
    if not found:
        raise OrderError(f"order: '{text}' names no reed; {_HELP}")
    return tuple(found)
