"""Pairs of reeds that are set to beat as wished, as the last step on the way to targets.

Wishes are met in the order in which they stand, each on the targets that those before it left. One
that a later wish undoes is told, for then no order of work at the bench could keep both.

Public: `parse_beat_wish`, `with_wished_beats`, `beat_wish_words`.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

from reedwright.workshop.targets.beating import MOST_RATE, Side, target_for_beats, with_target
from reedwright.workshop.targets.beats import beats_of, read_pair
from reedwright.workshop.targets.checking import TargetError
from reedwright.workshop.targets.model import BeatWish, Targets, Width

SET = "set"  # told beside the role of a reed that was set by its beats
_SAME_HZ = 1e-6  # within which a rate is still the one that was set, but for rounding
_HELP = "write two reeds and beats a second, such as 'blow 1 4=0.5', '=+0.5' wide, '=-0.5' narrow"


def parse_beat_wish(text: str) -> BeatWish:
    """A wish as a player writes it: `blow 1 4=0.5`, `draw 3 2 = -1`, `blow 1 4=0`.

    The reed that is named last is set. With a sign the pair is to be wide (+) or narrow (-),
    without one as is nearer. Raises `TargetError`; whether a harp has the holes is seen when it is
    set.
    """
    reeds, equals, number = text.rpartition("=")
    if not equals:
        raise TargetError(f"'{text}' does not say how fast the pair is to beat; {_HELP}")
    number = number.strip().replace(",", ".").replace("\N{MINUS SIGN}", "-")
    try:
        rate = float(number)
    except ValueError:
        raise TargetError(f"'{text}': '{number}' is no number of beats a second; {_HELP}") from None
    if not isfinite(rate) or abs(rate) > MOST_RATE:
        raise TargetError(f"'{text}': no pair can be set so fast; give 0 (pure) to {MOST_RATE:g}")
    fixed, moved = read_pair(reeds)
    width = {"+": Width.WIDE, "-": Width.NARROW}.get(number[:1], Width.NEARER)
    return BeatWish(fixed, moved, abs(rate), width if rate else Width.NEARER)


def with_wished_beats(targets: Targets, wishes: Sequence[BeatWish]) -> Targets:
    """The targets with each pair set to beat as wished. Raises `TargetError` where it cannot be."""
    partials = []
    for wish in wishes:
        pair = (wish.fixed, wish.moved)
        now = beats_of(targets, *pair)
        partials.append(now.partials)
        side = Side.NEARER
        if wish.width is not Width.NEARER:
            sharper = (wish.width is Width.WIDE) == (wish.moved == now.upper)
            side = Side.SHARPER if sharper else Side.FLATTER
        targets = target_for_beats(targets, pair, wish.rate, wish.moved, side, now.partials)
        moved = targets.of(wish.moved)
        targets = with_target(targets, moved._replace(role=f"{moved.role}, {SET}"))
    for wish, heard in zip(wishes, partials, strict=True):
        rate = beats_of(targets, wish.fixed, wish.moved, partials=heard).beats
        if abs(rate - wish.rate) > _SAME_HZ:
            raise TargetError(
                f"'{beat_wish_words(wish)}' is undone by a wish after it, which sets one of its "
                f"reeds anew: it would be {rate:.2f}. The reed named last is set; name the other "
                "one last, change the order, or leave out one of the two"
            )
    return targets


def beat_wish_words(wish: BeatWish) -> str:
    """`blow 1 4: 0.5 beats a second, wide`."""
    pair = f"{wish.fixed.breath.value} {wish.fixed.hole} {wish.moved.hole}"
    if not wish.rate:
        return f"{pair}: pure"
    width = "" if wish.width is Width.NEARER else f", {wish.width.value}"
    return f"{pair}: {wish.rate:g} beats a second{width}"
