"""The chart of all notes of a harp: as rows of cells, as text for a terminal, as plain data.

A chart reads outward from the row of hole numbers: blow above, draw below, then
with the slide in, then bends by depth, then overblows or overdraws.

Public: `chart_rows`, `ChartRow`, `layout_text`, `harp_report`, `home_key`, `note_name`.
"""

from __future__ import annotations

from typing import NamedTuple

from reedwright.harp.model import Breath, Harp, Sounding, Technique
from reedwright.harp.naming import KEYS, frequency, spell

VALVED_MARK = "v"
_LABEL_WIDTH = 14
_WIDE_CELL, _CELL = 6, 5  # characters; ten holes and their labels fit 80 columns
_ORDER = tuple(Technique)


class ChartRow(NamedTuple):
    """One row of the chart: what is done, and for each hole what sounds (None: nothing)."""

    label: str
    breath: Breath
    slide: bool
    cells: tuple[Sounding | None, ...]


def home_key(harp: Harp) -> str:
    """The tonic of first position, which is the key the harp's notes are spelled in."""
    return KEYS[(harp.home_pitch_class - 7) % 12]


def note_name(midi: int, harp: Harp, octave: bool = True) -> str:
    """A note as a player of this harp names it: flats in flat keys."""
    return spell(midi, home_key(harp), octave)


def chart_rows(harp: Harp) -> tuple[ChartRow, ...]:
    """All rows from the top of the chart to the bottom, the row of hole numbers left out.

    Valved bends share the row of two-reed bends of the same depth.
    """
    rows: dict[tuple[Breath, int, int, bool], dict[int, Sounding]] = {}
    for sounding in harp.soundings:
        over = sounding.technique.overbend
        # Distance from the holes: the reed, bends by depth, then overblows.
        rank = 99 if over else sounding.bend
        cells = rows.setdefault((sounding.breath, 1 if over else 0, rank, sounding.slide), {})
        cells[sounding.hole] = sounding
    found = [
        ChartRow(
            _label(breath, rank, bool(over), slide),
            breath,
            slide,
            tuple(cells.get(hole) for hole in range(1, harp.tuning.holes + 1)),
        )
        for (breath, over, rank, slide), cells in sorted(rows.items(), key=lambda row: row[0][1:])
    ]
    blow = [row for row in found if row.breath is Breath.BLOW]
    draw = [row for row in found if row.breath is Breath.DRAW]
    return (*reversed(blow), *draw)


def layout_text(harp: Harp) -> str:
    """The chart for a terminal: at most 80 columns for ten holes, note names with octaves."""
    holes = harp.tuning.holes
    width = _WIDE_CELL if holes <= 10 else _CELL
    valved = False
    lines = [harp.name, ""]
    hole_line = "hole".ljust(_LABEL_WIDTH) + "".join(
        f"[{hole}]".center(width) for hole in range(1, holes + 1)
    )
    before = Breath.BLOW
    for row in chart_rows(harp):
        if row.breath is Breath.DRAW and before is Breath.BLOW:
            lines.append(hole_line)
        before = row.breath
        cells = []
        for sounding in row.cells:
            text = ""
            if sounding is not None:
                text = note_name(sounding.midi, harp)
                if sounding.technique is Technique.VALVED_BEND:
                    text, valved = text + VALVED_MARK, True
            cells.append(text.center(width))
        lines.append(row.label.ljust(_LABEL_WIDTH) + "".join(cells))
    if valved:
        lines += ["", f"{VALVED_MARK}  a valved reed, bent alone (about a semitone)"]
    return "\n".join(line.rstrip() for line in lines)


def harp_report(harp: Harp) -> dict[str, object]:
    """What `--json` prints of a harp: names, reeds and every sounding, pitches in MIDI and Hz."""
    return {
        "name": harp.name,
        "key": harp.key,
        "first_position": home_key(harp),
        "tuning": harp.tuning.name,
        "register": harp.register,
        "holes": harp.tuning.holes,
        "slide": harp.tuning.slide,
        "a4": harp.a4,
        "valved_reeds": [
            {"hole": reed.hole, "breath": reed.breath.value} for reed in sorted(harp.isolated)
        ],
        "soundings": [
            {
                "hole": sounding.hole,
                "breath": sounding.breath.value,
                "technique": sounding.technique.value,
                "bend": sounding.bend,
                "slide": sounding.slide,
                "midi": sounding.midi,
                "note": note_name(sounding.midi, harp),
                "hz": round(frequency(sounding.midi, harp.a4), 3),
            }
            for sounding in sorted(
                harp.soundings,
                key=lambda s: (s.hole, s.breath, _ORDER.index(s.technique), s.bend, s.slide),
            )
        ],
    }


def _label(breath: Breath, rank: int, over: bool, slide: bool) -> str:
    if over:
        label = "overblow" if breath is Breath.BLOW else "overdraw"
    elif rank:
        label = f"{breath.value} bend {rank}"
    else:
        label = breath.value
    return label + (" <" if slide else "")
