"""Fingerings side by side, for a terminal and as JSON.

Public: `fingerings_text`, `fingerings_report`.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from reedwright.tab.arrangement import Arrangement
from reedwright.tab.fingerings.different import Difference, Fingering, Fingerings
from reedwright.tab.notation import MISSING, TabStyle, tab_sign
from reedwright.tab.words import bars_text, counted, number_word, short_words
from reedwright.tune.model import Note

WIDTH = 88
_INDENT = "   "


def fingerings_text(
    arrangement: Arrangement, fingerings: Fingerings, style: TabStyle = TabStyle.ARROWS
) -> str:
    """Numbered from 1: effort beyond the least, the tab of the bars, what differs and why."""
    place = bars_text(fingerings.bars) if fingerings.bars else "the whole tune"
    lines = [f"{arrangement.plain.title}, {place}, on the {arrangement.harp.name}", ""]
    for number, each in enumerate(fingerings.found, start=1):
        more = f"{each.more:+.2f}" if number > 1 else "the least effort"
        lines.append(f"{number}  {more}")
        if fingerings.bars:
            lines += [_INDENT + line for line in _tab(arrangement, fingerings, each, style)]
        told = [_difference(difference) for difference in each.differences]
        told += [f"effort: {', '.join(each.costs)}"] if each.costs else []
        if not each.proven:
            told.append(
                f"the best that the search found; an easier one, by {each.at_most:.1f} at most, "
                "is not ruled out"
            )
        for text in told:
            lines += textwrap.wrap(
                text, WIDTH, initial_indent=_INDENT, subsequent_indent=_INDENT + "  "
            )
    lines += ["", *textwrap.wrap(_remark(fingerings), WIDTH)]
    return "\n".join(lines).rstrip()


def _tab(
    arrangement: Arrangement, fingerings: Fingerings, fingering: Fingering, style: TabStyle
) -> Iterator[str]:
    columns: list[tuple[str, str]] = []
    for bar in arrangement.plain.voices[arrangement.voice].bars:
        if bar.number in fingerings.bars:
            if columns:
                columns.append(("|", "|"))
            columns += [(note.pitch.name, _sign(note, fingering, style)) for note in bar.notes]
    widths = [max(map(len, column)) for column in columns]
    for row in range(2):
        yield " ".join(
            f"{column[row]:<{width}}" for column, width in zip(columns, widths, strict=True)
        ).rstrip()


def _sign(note: Note, fingering: Fingering, style: TabStyle) -> str:
    way = fingering.soundings.get(note.id)
    # A sign of the two rows would not say blow or draw in one row.
    return (
        MISSING
        if way is None
        else tab_sign(way, TabStyle.ARROWS if style is TabStyle.ROWS else style)
    )


def _difference(difference: Difference) -> str:
    way = short_words(difference.way) if difference.way else "left out"
    usual = short_words(difference.instead_of) if difference.instead_of else "nothing"
    return f"{difference.pitch} as {way} instead of {usual} in {bars_text(difference.bars)}"


def _remark(fingerings: Fingerings) -> str:
    count = len(fingerings.found)
    if not count:
        return "There is no note in it to choose for."
    if count == 1 and fingerings.all_there_are:
        return "There is no other way to play it with the techniques in use."
    apart = (
        ""
        if fingerings.bars
        else f" Each differs from every one above it in at least "
        f"{counted(fingerings.apart, 'note', number=number_word)} as played."
    )
    if fingerings.all_there_are:
        return f"There are no more than these {number_word(count)}.{apart}"
    if count < fingerings.asked:
        return f"No more that differ so much were found.{apart}"
    found = "" if all(each.proven for each in fingerings.found) else " that were found"
    return f"These are the {number_word(count)} easiest{found}.{apart}"


def fingerings_report(fingerings: Fingerings) -> dict[str, object]:
    """The same, JSON-ready (docs/choices.md)."""
    return {
        "bars": list(fingerings.bars),
        "asked": fingerings.asked,
        "apart": fingerings.apart,
        "all_there_are": fingerings.all_there_are,
        "fingerings": [
            {
                "effort": each.effort,
                "more": each.more,
                "proven": each.proven,
                "at_most": each.at_most,
                "notes_different": each.notes_different,
                "differences": [
                    {
                        "name": difference.pitch,
                        "way": short_words(difference.way) if difference.way else None,
                        "instead_of": short_words(difference.instead_of)
                        if difference.instead_of
                        else None,
                        "bars": list(difference.bars),
                    }
                    for difference in each.differences
                ],
                "costs": list(each.costs),
                "notes": {id_: short_words(way) for id_, way in each.soundings.items()},
            }
            for each in fingerings.found
        ],
    }
