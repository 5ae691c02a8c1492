"""Aligned tab for a terminal: note names, and the tab below them, bar by bar.

Each note has a column; its name stands above its tab. Grace notes stand in braces before
their note. Lines break at bar lines. What is drawn with signs beyond ASCII has an ASCII form.

Public: `tab_text`, `notices`.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from reedwright.harp.position import position, position_name
from reedwright.tab.arrangement import Arrangement, MissingNote
from reedwright.tab.notation import TabStyle, tab_rows
from reedwright.tab.ornaments.words import ornament_changes
from reedwright.tab.words import moved_words
from reedwright.tab.written import written_notes
from reedwright.tune.model import Bar, BarLine, Note, Rest

WIDTH = 80
NARROWEST = 24  # columns; below it lines run over
_ASCII = str.maketrans({"↑": "+", "↓": "-", "°": "o", "×": "x", "·": "."})
_MARKS = {"dacapo": "D.C.", "dalsegno": "D.S.", "fine": "Fine", "tocoda": "To Coda"}
_HELD = "~"  # a tie holds the note on
_REST = "·"


class _Block(NamedTuple):
    """One bar, laid out: what stands above it, what opens it, its lines, what closes it."""

    heading: str
    opening: str
    lines: tuple[str, ...]  # note names, then the rows of tab, all of one width
    closing: str
    line_end: bool

    @property
    def width(self) -> int:
        return len(self.opening) + len(self.lines[0]) + len(self.closing)


def tab_text(
    arrangement: Arrangement,
    style: TabStyle | str = TabStyle.ARROWS,
    width: int = WIDTH,
    ascii_only: bool = False,
) -> str:
    """The tune's tab in lines of at most `width` columns (a bar that is wider stands alone).

    `ascii_only`: blow and draw of the arrow style become `+` and `-` after the hole, and
    other signs their nearest ASCII.
    """
    chosen = TabStyle(style)
    lines = [*_header(arrangement, chosen, ascii_only), ""]
    labels = [row.name if chosen is TabStyle.ROWS else "" for row in tab_rows(arrangement, chosen)]
    margin = max(map(len, labels)) + (1 if any(labels) else 0)
    room = max(width, NARROWEST) - margin
    for system in _systems(list(_blocks(arrangement, chosen)), room):
        lines += _drawn(system, ["", *labels], margin)
        lines.append("")
    for each in (*notices(arrangement), *map(str, ornament_changes(arrangement))):
        lines += textwrap.wrap(each, max(width, NARROWEST), subsequent_indent="  ")
    text = "\n".join(line.rstrip() for line in lines).rstrip()
    if ascii_only:
        return text.translate(_ASCII).encode("ascii", "replace").decode()
    return text


def _header(arrangement: Arrangement, style: TabStyle, ascii_only: bool) -> Iterator[str]:
    tune, harp = arrangement.tune, arrangement.harp
    where = position_name(position(tune.key.tonic_pitch_class, harp))
    meter = "free metre" if tune.meter.free else tune.meter.name
    kind = ", ".join(filter(None, (tune.type, tune.key.name, meter)))
    yield tune.title
    yield kind
    yield f"{harp.name[0].upper()}{harp.name[1:]}, {where} position"
    moved = moved_words(arrangement.octaves, arrangement.semitones)
    if moved:
        yield f"The tune is moved {moved}."
    yield (
        f"Effort {arrangement.effort:.1f}, {arrangement.effort_per_note:.2f} a note, "
        f"for the profile {arrangement.player.name}"
    )
    match style:
        case TabStyle.ARROWS:
            yield "5+ is 5 blow, 5- is 5 draw" if ascii_only else "5↑ is 5 blow, 5↓ is 5 draw"
        case TabStyle.SIGNS:
            yield "+5 is 5 blow, -5 is 5 draw"
        case TabStyle.ROWS:
            yield "upper row blow, lower row draw"


def _blocks(arrangement: Arrangement, style: TabStyle) -> Iterator[_Block]:
    rows = [row.texts for row in tab_rows(arrangement, style)]
    held = {written.note.id for written in written_notes(arrangement) if written.continues}
    number: int | None = None
    bars = arrangement.tune.voices[arrangement.voice].bars
    for bar, after in zip(bars, [*bars[1:], None], strict=True):
        columns: list[list[str]] = []
        for event in bar.events:
            if isinstance(event, Rest) and event.visible:
                columns.append([_REST, *("" for _ in rows)])
            elif isinstance(event, Note):
                columns.append(_column(event, rows, event.id in held))
        widths = [max(map(len, column)) for column in columns]
        lines = [
            " ".join(
                f"{column[row]:<{width}}" for column, width in zip(columns, widths, strict=True)
            )
            for row in range(len(rows) + 1)
        ]
        heading = _heading(bar, number)
        number = bar.number
        # The heading may be wider than a bar of one note.
        spare = max(len(heading) - len(lines[0]), 0)
        yield _Block(
            heading,
            "|: " if bar.repeat_open else "| ",
            tuple(line + " " * spare for line in lines),
            _closing(bar, after),
            bar.line_end or after is None,
        )


def _column(note: Note, rows: list[Mapping[str, str]], held: bool) -> list[str]:
    """A note with its grace notes: its name, then what each row has; all of one width."""
    parts: list[list[str]] = []
    for grace in note.graces:
        parts.append([grace.pitch.name, *(row.get(grace.id, "") for row in rows)])
    name = _marked(note)
    if held:
        texts = [f"({name})", _HELD, *("" for _ in rows[1:])]
    else:
        texts = [name, *(row.get(note.id, "") for row in rows)]
    joined = [""] * len(texts)
    for at, part in enumerate(parts):
        width = max(map(len, part))
        for row, text in enumerate(part):
            start = ("{" if at == 0 else " ") if text or row == 0 else " "
            end = ("}" if at == len(parts) - 1 else "") if text or row == 0 else ""
            ends = 1 if at == len(parts) - 1 else 0
            joined[row] += f"{start + text + end:<{width + 1 + ends}}"
    return [before + text for before, text in zip(joined, texts, strict=True)]


def _marked(note: Note) -> str:
    """Its name with what is done to it: `/D5` slid into, `D5tr` shaken, `D5,` then a breath."""
    marks = note.decorations
    before = "/" if "slide" in marks else ""
    after = ("tr" if "trill" in marks else "") + ("," if "breath" in marks else "")
    return f"{before}{note.pitch.name}{after}"


def _heading(bar: Bar, shown: int | None) -> str:
    """Part, bar number (once for the halves of a cut bar) and ending: `B 9`, `8 [1`."""
    said = []
    if bar.part is not None:
        said.append(bar.part)
    if bar.number != shown and bar.number > 0:
        said.append(str(bar.number))
    if bar.ending:
        said.append("[" + ",".join(map(str, bar.ending)))
    said += [_MARKS.get(mark, mark) for mark in bar.marks]
    return " ".join(said)


def _closing(bar: Bar, after: Bar | None) -> str:
    if bar.repeat_close:
        return " " + ":" * (bar.repeat_close - 1) + "|"
    if bar.closing is BarLine.FINAL or after is None:
        return " |]"
    return " ||" if bar.closing is BarLine.DOUBLE else " |"


def _systems(blocks: list[_Block], room: int) -> Iterator[list[_Block]]:
    """Lines of bars: broken where the page is, and where the room ends.

    A line of the page that must be broken is broken into lines of about the same length.
    """
    line: list[_Block] = []
    for block in blocks:
        line.append(block)
        if block.line_end:
            yield from _evenly(line, room)
            line = []
    if line:
        yield from _evenly(line, room)


def _evenly(line: list[_Block], room: int) -> Iterator[list[_Block]]:
    needed = len(_filled(line, room))
    narrow = room
    while narrow > NARROWEST and len(_filled(line, narrow - 1)) == needed:
        narrow -= 1
    yield from _filled(line, narrow)


def _filled(line: list[_Block], room: int) -> list[list[_Block]]:
    systems: list[list[_Block]] = []
    used = room + 1
    for block in line:
        if not systems or used + block.width > room:
            systems.append([])
            used = 0
        systems[-1].append(block)
        used += block.width
    return systems


def _drawn(system: list[_Block], labels: list[str], margin: int) -> Iterator[str]:
    above = " " * margin
    texts = [f"{label:<{margin}}" for label in labels]
    for at, block in enumerate(system):
        # A bar line that the bar before has drawn is not drawn again.
        opening = block.opening if at == 0 or block.opening != "| " else " "
        if at and block.opening == "|: ":
            opening = ": " if system[at - 1].closing.endswith("|") else "|: "
        length = len(opening) + len(block.lines[0]) + len(block.closing)
        above += f"{' ' * len(opening) + block.heading:<{length}}"
        for row, line in enumerate(block.lines):
            texts[row] += opening + line + block.closing
    yield above
    yield from texts


def notices(arrangement: Arrangement) -> Iterator[str]:
    """Notes that are missing, each pitch once, with what would help; then warnings."""
    by_pitch: dict[tuple[str, str], list[str]] = {}
    elsewhere: dict[str, None] = {}
    for missing in arrangement.missing:
        where = f"bar {missing.bar} beat {_beat(missing)}"
        by_pitch.setdefault((missing.pitch, missing.on_this_harp), []).append(where)
        elsewhere[missing.elsewhere] = None
    for (pitch, own), places in by_pitch.items():
        yield f"Missing: {pitch}, {', '.join(places)}. {own}".rstrip()
    yield from filter(None, elsewhere)
    for warning in arrangement.warnings:
        yield f"Note: {warning}"


def _beat(missing: MissingNote) -> str:
    whole, part = divmod(missing.beat, 1)
    return str(int(whole)) if not part else f"{int(whole)} and {part}"
