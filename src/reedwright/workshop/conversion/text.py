"""Conversions for a terminal of 80 columns.

Public: `conversion_text`, `stocks_text`, `worklist_text`, `shopping_text`.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from reedwright.harp.cautions import SHORT_CAUTION
from reedwright.harp.layout import note_name
from reedwright.harp.model import Breath
from reedwright.harp.naming import A4_HZ
from reedwright.tab.words import counted, listed, moved_words, with_article
from reedwright.workshop.conversion.changewords import change_lines
from reedwright.workshop.conversion.costs import retune_cost
from reedwright.workshop.conversion.handwork import donor_words
from reedwright.workshop.conversion.model import (
    Conversion,
    Purchase,
    ReedWork,
    Work,
    WorkList,
)
from reedwright.workshop.conversion.order import SETTLE_HOURS, Stage, stage_of
from reedwright.workshop.conversion.steps import bench_steps
from reedwright.workshop.targets.beats import PairBeats

WIDTH = 80
MOST_STOCKS = 5  # named unless more are asked for
MOST_DONORS = 3  # offered beside a warning

_FIGURES = "  reeds  swaps  touches  semitones  effort"
ONE_SEMITONE = retune_cost(100.0, A4_HZ)  # what the unit of effort is explained by


def conversion_text(conversion: Conversion, width: int = WIDTH) -> str:
    """The whole plan: the reeds in a table, the stages with their checks, what the holes lose."""
    lines = [*_wrapped(_title(conversion), width), ""]
    if not conversion.works:
        lines.append("No reed needs work.")
        return "\n".join(lines)
    lines += [*_wrapped(_sum(conversion), width), "", *_table(conversion)]
    for number, step in enumerate(bench_steps(conversion), start=1):
        lines += ["", f"{number}. {_headline(step.stage)}", *_wrapped(step.text, width, "   ")]
        for work in step.works:
            lines += _turn(work, step.stage, width)
        lines += _beats(step.pairs, width)
    changes = change_lines(conversion.stock, conversion.wanted, conversion.changes)
    if changes:
        lines += ["", "What the holes gain and lose"]
        for change in changes:
            lines += _wrapped(change, width, "   ", hanging="      ")
    for note in conversion.notes:
        lines += ["", *_wrapped(note, width)]
    return "\n".join([*lines, "", *_wrapped(SHORT_CAUTION, width)])


def stocks_text(ranked: Sequence[Conversion], most: int = MOST_STOCKS, width: int = WIDTH) -> str:
    """The harps that one may start from, the one with the least work first."""
    if not ranked:
        return "No harp to start from."
    shown = ranked[:most]
    longest = width - len("    ") - len(_FIGURES)
    name_width = min(max(len(each.stock.name) for each in shown), longest)
    head = f"    {'start from':{name_width}}{_FIGURES}"
    lines = [*_wrapped(f"To make {with_article(ranked[0].wanted.name)}:", width), "", head]
    for place, each in enumerate(shown, start=1):
        kinds = [work.work for work in each.works]
        changed = len(each.retuned)
        *more, name = _wrapped(each.stock.name, name_width)
        places = [f"{place}.", *("" for _ in more)]
        for number, part in zip(places, more, strict=False):
            lines.append(f"{number:>3} {part}")
        lines.append(
            f"{places[-1]:>3} {name:{name_width}}  {changed:5}  {kinds.count(Work.SWAP):5}  "
            f"{kinds.count(Work.TOUCH):7}  {each.semitones:9.1f}  {each.effort:6.1f}"
        )
    if len(ranked) > most:
        left = len(ranked) - most
        lines.append(f"    and {counted(left, 'other harp')} with no less to do")
    return "\n".join(lines)


def worklist_text(worklist: WorkList, width: int = WIDTH) -> str:
    """What to buy, and the reeds of all harps in bench order. Each harp's plan tells the rest."""
    if not worklist.conversions:
        return "Nothing to do."
    lines = ["To make"]
    for number, each in enumerate(worklist.conversions, start=1):
        lines += _wrapped(f"{number}. {_title(each)}", width, "  ", hanging="     ")
    lines += ["", shopping_text(worklist, width)]
    lines += _order_lines(worklist, width)
    return "\n".join([*lines, "", *_wrapped(SHORT_CAUTION, width)])


def shopping_text(worklist: WorkList, width: int = WIDTH) -> str:
    """What to buy and what to take of the harps at hand; empty where nothing is needed."""
    lines: list[str] = []
    for head, taken in (
        ("To buy", worklist.shopping),
        ("To take of those at hand", worklist.from_hand),
    ):
        if taken:
            lines += ["", head]
            for purchase in taken:
                lines += _wrapped(_taken(purchase), width, "  ", hanging="      ")
    if not worklist.exact:
        lines += _wrapped("Perhaps fewer harps would give all reeds.", width, "  ")
    return "\n".join(lines[1:])


def _taken(taken: Purchase) -> str:
    """`3 x C harp (for 1 and 2, 1 of them for reeds)`."""
    uses = listed([str(number) for number in taken.used_for])
    of_them = f"{taken.as_donor} of them " if taken.as_donor != taken.number else ""
    gives = f", {of_them}for reeds" if taken.as_donor else ""
    return f"{taken.number} x {taken.harp.name} (for {uses}{gives})"


def _order_lines(worklist: WorkList, width: int) -> Iterator[str]:
    stage_before: Stage | None = None
    harp_before = -1
    works = [(c, worklist.conversions[c].works[w]) for c, w in worklist.order]
    settles = any(work.finish for _, work in works)
    for c, work in works:
        stage = stage_of(work.work)
        if stage is not stage_before:
            if stage is Stage.FINE and settles:
                yield from _settle(worklist, width)
                settles = False
            yield from ("", _headline(stage))
            stage_before, harp_before = stage, -1
        if c != harp_before:
            yield from _wrapped(f"{c + 1}. {worklist.conversions[c].wanted.name}", width, "  ")
            harp_before = c
        yield f"     {_row(worklist.conversions[c], work)}"
        if work.work is Work.SWAP:
            donor = work.donors[0]
            left = f", {moved_words(0, donor.semitones)}" if donor.semitones else ""
            yield from _wrapped(f"put in {donor_words(donor)}{left}", width, "         ")
    if settles:
        yield from _settle(worklist, width)
    if works:
        yield from ("", _headline(Stage.CHORDS))


def _settle(worklist: WorkList, width: int) -> Iterator[str]:
    """All harps rest together; then every reed that was left short is finished."""
    yield from ("", _headline(Stage.SETTLE))
    yield from _wrapped(
        f"{SETTLE_HOURS} hours or overnight, all harps together; then finish the reeds above, "
        "hole by hole.",
        width,
        "  ",
    )


def _title(conversion: Conversion) -> str:
    made = f"{with_article(conversion.wanted.name)}, from {with_article(conversion.stock.name)}"
    made = made[0].upper() + made[1:]
    return f"{conversion.name}: {made}" if conversion.name else made


def _sum(conversion: Conversion) -> str:
    works = [work.work for work in conversion.works]
    parts = [
        counted(count, one, many)
        for count, one, many in (
            (works.count(Work.SWAP), "reed to swap", "reeds to swap"),
            (works.count(Work.RAISE), "to raise", "to raise"),
            (works.count(Work.LOWER), "to lower", "to lower"),
            (works.count(Work.TOUCH), "to touch up", "to touch up"),
        )
        if count
    ]
    return (
        f"{listed(parts)}; {conversion.semitones:.1f} semitones in all. Effort "
        f"{conversion.effort:.1f}, where {ONE_SEMITONE:.0f} is one reed of the middle raised by "
        "a semitone."
    )


def _table(conversion: Conversion) -> Iterator[str]:
    yield "reed     work       note          from Hz     to Hz    cents"
    for work in conversion.works:
        yield _row(conversion, work)


def _row(conversion: Conversion, work: ReedWork) -> str:
    harp = conversion.wanted
    was, now = (note_name(midi, harp) for midi in (work.from_midi, work.to_midi))
    note = now if was == now else f"{was} > {now}"
    return (
        f"{work.reed.hole:2} {work.reed.breath.value}  {work.work.value:9}  {note:10}  "
        f"{work.from_hz:9.2f} {work.to_hz:9.2f}  {work.cents:+7.1f}"
    )


def _turn(work: ReedWork, stage: Stage, width: int) -> Iterator[str]:
    """One reed in one stage: a box to tick, what to do, what to hear."""
    reed = f"[ ] {work.reed.hole} {work.reed.breath.value}"
    indent = " " * 7
    if stage is Stage.FINE:
        cents = "" if work.finish else f"{work.cents:+.1f} cents to "
        said = (work.finish or work.check).removeprefix(
            f"Play {work.reed.hole} {work.reed.breath.value}: "
        )
        yield from _wrapped(f"{reed}: {cents}{said}", width, "   ", hanging=indent)
        return
    yield from _wrapped(
        f"{reed}, {work.cents:+.1f} cents. {work.how}", width, "   ", hanging=indent
    )
    yield from _wrapped(f"Check: {work.check}", width, indent)
    if work.warning:
        yield from _wrapped(f"Take care: {work.warning}", width, indent)
        others = work.donors[1:MOST_DONORS] if work.donors else ()
        if others:
            also = listed([donor_words(donor) for donor in others])
            yield from _wrapped(f"Would do as well or nearly: {also}.", width, indent)


def _beats(pairs: Sequence[PairBeats], width: int) -> Iterator[str]:
    """A line for each breath: `blow 1 and 4: 0.6`."""
    if pairs:
        yield "   Beats a second:"
    for breath in Breath:
        said = []
        for pair in pairs:
            if pair.lower.breath is breath:
                beats = "none" if pair.pure else f"{pair.beats:.1f}"
                said.append(f"{pair.lower.hole} and {pair.upper.hole}: {beats}")
        if said:
            yield from _wrapped(f"{breath.value} {'; '.join(said)}", width, "   ", hanging=" " * 8)


def _headline(stage: Stage) -> str:
    return stage.value[0].upper() + stage.value[1:]


def _wrapped(text: str, width: int, indent: str = "", hanging: str | None = None) -> list[str]:
    return textwrap.wrap(
        text,
        width,
        initial_indent=indent,
        subsequent_indent=indent if hanging is None else hanging,
        break_long_words=False,
        break_on_hyphens=False,
    )
