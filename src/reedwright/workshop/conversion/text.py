"""Conversions for a terminal of 80 columns.

Public: `conversion_text`, `stocks_text`, `worklist_text`, `shopping_text`.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from reedwright.harp.layout import note_name
from reedwright.harp.model import Breath
from reedwright.harp.naming import A4_HZ
from reedwright.tab.words import counted, listed, with_article
from reedwright.workshop.conversion.changewords import change_lines
from reedwright.workshop.conversion.costs import retune_cost
from reedwright.workshop.conversion.handwork import caution_words, donor_words
from reedwright.workshop.conversion.model import (
    Conversion,
    Purchase,
    ReedWork,
    Work,
    WorkList,
)
from reedwright.workshop.conversion.order import Stage
from reedwright.workshop.conversion.steps import Step, bench_steps, worklist_steps
from reedwright.workshop.targets.beats import PairBeats

WIDTH = 80
MOST_STOCKS = 5  # named unless more are asked for
MOST_DONORS = 3  # offered beside a warning

_FIGURES = "  reeds  swaps  touches  semitones  effort"
ONE_SEMITONE = retune_cost(100.0, A4_HZ)  # what the unit of effort is explained by


def conversion_text(conversion: Conversion, width: int = WIDTH) -> str:
    """The whole plan: the reeds in a table, the stages with their checks, what the holes lose."""
    lines = [*_wrapped(_title(conversion), width), "", *_reeds(conversion, width)]
    for number, step in enumerate(bench_steps(conversion), start=1):
        lines += ["", f"{number}. {_headline(step.stage)}", *_wrapped(step.text, width, "   ")]
        lines += _turns(step, width)
    lines += _changes(conversion, width)
    for note in conversion.notes:
        lines += ["", *_wrapped(note, width)]
    if conversion.works:
        lines += ["", *_wrapped(caution_words([conversion]), width)]
    return "\n".join(lines)


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
    """What to buy, each harp's reeds, then the work on all of them, stage by stage.

    Each turn of a reed is told as in the plan of one harp.
    """
    if not worklist.conversions:
        return "Nothing to do."
    lines = ["To make"]
    for number, each in enumerate(worklist.conversions, start=1):
        lines += _wrapped(f"{number}. {_title(each)}", width, "  ", hanging="     ")
    lines += ["", shopping_text(worklist, width)]
    for number, each in enumerate(worklist.conversions, start=1):
        lines += ["", *_harp_head(number, each, width), *_reeds(each, width)]
        lines += _changes(each, width)
    for shared in worklist_steps(worklist):
        lines += ["", _headline(shared.stage), *_wrapped(shared.text, width, "   ")]
        for c, step in shared.harps:
            lines += _harp_head(c + 1, worklist.conversions[c], width, "  ")
            lines += _turns(step, width)
    for note, harps in _shared_notes(worklist).items():
        of = "" if len(harps) == len(worklist.conversions) else f"{listed(harps)}: "
        lines += ["", *_wrapped(f"{of}{note}", width)]
    return "\n".join([*lines, "", *_wrapped(caution_words(worklist.conversions), width)])


def _shared_notes(worklist: WorkList) -> dict[str, list[str]]:
    """Each note with the numbers of the harps that it belongs to."""
    found: dict[str, list[str]] = {}
    for number, each in enumerate(worklist.conversions, start=1):
        for note in each.notes:
            found.setdefault(note, []).append(str(number))
    return found


def _harp_head(number: int, conversion: Conversion, width: int, indent: str = "") -> list[str]:
    name = conversion.name or conversion.wanted.name
    return _wrapped(f"{number}. {name}", width, indent, hanging=indent + "   ")


def shopping_text(worklist: WorkList, width: int = WIDTH) -> str:
    """What to buy and what to take of the harps at hand; empty where nothing is needed."""
    lines: list[str] = []
    alone = len(worklist.conversions) == 1
    for head, taken in (
        ("To buy", worklist.shopping),
        ("To take of those at hand", worklist.from_hand),
    ):
        if taken:
            lines += ["", head]
            for purchase in taken:
                lines += _wrapped(_taken(purchase, alone), width, "  ", hanging="      ")
    if not worklist.exact:
        lines += _wrapped("Perhaps fewer harps would give all reeds.", width, "  ")
    return "\n".join(lines[1:])


def _taken(taken: Purchase, alone: bool) -> str:
    """`3 x C harp (for 1 and 2, 1 of them for reeds)`; `alone`: all is for one harp."""
    uses = listed([str(number) for number in taken.used_for])
    of_them = f"{taken.as_donor} of them " if taken.as_donor != taken.number else ""
    said = [] if alone else [f"for {uses}"]
    said += [f"{of_them}for reeds"] if taken.as_donor else []
    return f"{taken.number} x {taken.harp.name}" + (f" ({', '.join(said)})" if said else "")


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


def _reeds(conversion: Conversion, width: int) -> Iterator[str]:
    """What is to do in sum, and the reeds in a table."""
    if not conversion.works:
        yield "No reed needs work."
        return
    yield from _wrapped(_sum(conversion), width)
    yield from ("", f"{'reed     work       note          from Hz     to Hz    cents':60}  effort")
    for work in conversion.works:
        yield _row(conversion, work)


def _changes(conversion: Conversion, width: int) -> Iterator[str]:
    """What its holes gain and lose, with a heading; nothing where they stay."""
    changes = change_lines(conversion.stock, conversion.wanted)
    if changes:
        yield from ("", "What the holes gain and lose")
    for hole, change in changes:
        yield from _wrapped(f"hole {hole}: {change}", width, "   ", hanging="      ")


def _row(conversion: Conversion, work: ReedWork) -> str:
    harp = conversion.wanted
    was, now = (note_name(midi, harp) for midi in (work.from_midi, work.to_midi))
    note = now if was == now else f"{was} > {now}"
    return (
        f"{work.reed.hole:2} {work.reed.breath.value}  {work.work.value:9}  {note:10}  "
        f"{work.from_hz:9.2f} {work.to_hz:9.2f}  {work.cents:+7.1f}"
        f"  {work.effort:4.1f} {work.hardness}"
    )


def _turns(step: Step, width: int) -> Iterator[str]:
    """The reeds that have their turn in a stage, or the pairs that are tried in it."""
    for work in step.works:
        yield from _turn(work, step.stage, width)
    yield from _beats(step.pairs, width)


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
