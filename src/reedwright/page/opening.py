"""How a tune begins: its first bars engraved as one system, with or without tab.

Public: `Opening`, `opening`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from reedwright.page.engraving import Engraver, Look, NotEngraved
from reedwright.page.systemsvg import OVERHANG
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.notation import tab_rows
from reedwright.tune.model import Bar, BarLine, Tune

SLACK = 1.08  # of the natural width: Verovio measures it a little small
# The smallest staff, as a share of the one asked for, that a long beginning is set with.
SMALLEST_SHARE = 0.72
SHRINK = 0.94  # from one size that is tried to the next


class Opening(NamedTuple):
    """A drawing of the first bars: an SVG document, its size in mm, and the same in words.

    It begins `overhang` mm left of the staff. `whole` is false where fewer bars than were asked
    for had room.
    """

    svg: str
    width: float
    height: float
    overhang: float
    words: str
    whole: bool


def opening(
    arrangement: Arrangement,
    bars: int = 2,
    width_mm: float = 120.0,
    look: Look | None = None,
    tab_style: str = "arrows",
    with_tab: bool = True,
) -> Opening:
    """The first `bars` full bars, with the anacrusis, no wider than `width_mm`.

    Where they are too wide at the size asked for they are set smaller, then with fewer bars.
    Raises `NotEngraved` where the tune has no music.
    """
    wanted = look or Look()
    room = width_mm - OVERHANG
    for number in range(bars, 0, -1):
        tune = _beginning(arrangement.tune, arrangement.voice, number)
        rows = tab_rows(replace(arrangement, tune=tune), tab_style) if with_tab else ()
        engraver = Engraver(tune, rows, arrangement.voice, room)
        fitting = _largest(engraver, wanted, room)
        if fitting is None and number > 1:
            continue
        chosen = fitting or Look(wanted.staff * SMALLEST_SHARE, wanted.tab * SMALLEST_SHARE)
        engraver.width = min(_natural_width(engraver, chosen), room)
        (drawn,) = engraver.engrave(engraver.plans(chosen, most=1)[0])
        words = _words(arrangement, tune, number)
        whole = number == bars
        return Opening(drawn.svg, drawn.width, drawn.height, drawn.overhang, words, whole)
    raise ValueError("an opening has one bar at least")


def _largest(engraver: Engraver, wanted: Look, room: float) -> Look | None:
    """The largest look up to the wanted one at which the bars have room; None for none."""
    share = 1.0
    while share >= SMALLEST_SHARE:
        look = Look(wanted.staff * share, wanted.tab * share)
        if _natural_width(engraver, look) <= room:
            return look
        share *= SHRINK
    return None


def _natural_width(engraver: Engraver, look: Look) -> float:
    """Millimetres that the bars take beside one another."""
    line = engraver.measured(look)
    return SLACK * (line.lead + sum(bar.width for bar in line.bars)) / look.millimetre


def _beginning(tune: Tune, voice: int, bars: int) -> Tune:
    """The tune up to the end of that many full bars, without the signs that then mean nothing."""
    if not tune.voices or not tune.voices[voice].bars:
        raise NotEngraved(f"{tune.title}: there is no music to engrave. Choose another tune.")
    kept = _first_bars(tune.voices[voice].bars, bars)
    plain = [
        replace(
            bar,
            repeat_close=0,
            ending=(),
            ending_last=False,
            marks=(),
            closing=bar.closing if bar.closing is BarLine.INVISIBLE else BarLine.SINGLE,
            line_end=False,
        )
        for bar in kept
    ]
    voices = list(tune.voices)
    voices[voice] = replace(voices[voice], bars=tuple(plain))
    return replace(tune, voices=tuple(voices), part_order=())


def _first_bars(bars: Sequence[Bar], wanted: int) -> list[Bar]:
    """Bars up to the end of the `wanted`th full one; halves of a cut bar count as one."""
    kept: list[Bar] = []
    numbers: list[int] = []
    for bar in bars:
        if bar.number and bar.number not in numbers:
            if len(numbers) == wanted:
                break
            numbers.append(bar.number)
        kept.append(bar)
    return kept


def _words(arrangement: Arrangement, tune: Tune, bars: int) -> str:
    """The tab of these bars in words: `5 blow, 4 blow, 6 draw`."""
    said = []
    for note in tune.voices[arrangement.voice].notes:
        sounding = arrangement.soundings.get(note.id)
        if sounding is None:
            said.append(f"{note.pitch.name} missing")
        else:
            bent = f" bent {sounding.bend}" if sounding.bend else ""
            over = f" {sounding.technique.value}" if sounding.technique.overbend else ""
            said.append(f"{sounding.hole} {sounding.breath.value}{bent}{over}")
    first = "first bar" if bars == 1 else f"first {bars} bars"
    return f"The {first} of {tune.title}: {', '.join(said)}."
