"""The take as a whole in two drawings: tempo and timing bar by bar, and the pitch of each hole.

Public: `tempo_drawing`, `pitch_drawing`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from itertools import groupby
from statistics import median

from reedwright.harp.model import Breath, Technique
from reedwright.tab.words import bars_text, bend_words, listed
from reedwright.takes.report import drawing as draw
from reedwright.takes.report.model import (
    BarTiming,
    BarVerdict,
    BendVerdict,
    TakeReport,
    Verdict,
)
from reedwright.takes.report.phrases import cents_words
from reedwright.takes.report.strips import Strip

LEFT, RIGHT, TOP = 56.0, 6.0, 17.0
TEMPO_HEIGHT, TIMING_HEIGHT, GAP = 66.0, 62.0, 12.0
# Shares of the tempo that the curve shows above and below it at least and at most.
LEAST_SPAN, MOST_SPAN = 0.04, 0.3
MOST_LATE = 0.12  # of a bar; more is cut off and its number told
NUMBER_ROOM = 24.0  # pixels that a bar number wants
PITCH_HEIGHT, HOLE_WIDTH, MOST_CENTS = 104.0, 56.0, 50.0


def tempo_drawing(report: TakeReport, width_mm: float) -> Strip:
    """Above, each bar's tempo against the whole take's; below, how early or late each bar ended."""
    width = width_mm * draw.PIXELS_PER_MM
    bars = [bar for bar in report.bars if bar.tells]
    step = (width - LEFT - RIGHT) / max(1, len(bars))
    tempo_foot = TOP + TEMPO_HEIGHT
    foot = tempo_foot + GAP + TIMING_HEIGHT
    out = _parts(bars, step, foot)
    out += _tempo(report, bars, step)
    out += _timing(bars, step, tempo_foot + GAP)
    out += _numbers(bars, step, foot)
    words = _tempo_words(report, bars)
    height = foot + 17.0
    svg = draw.document(width, height, "Tempo and timing by bar", words, out)
    return Strip(svg, width_mm, height / draw.PIXELS_PER_MM, words)


def _parts(bars: Sequence[BarTiming], step: float, foot: float) -> list[str]:
    out = []
    k = 0
    for (part, _), group in groupby(bars, lambda bar: (bar.part, bar.part_time)):
        x = LEFT + k * step
        if k:
            out.append(draw.line((x, TOP), (x, foot), draw.HAIR, 0.7))
        out.append(draw.text((x + 2, TOP - 5.0), part, draw.LABEL, weight="bold"))
        k += len(list(group))
    return out


def _tempo(report: TakeReport, bars: Sequence[BarTiming], step: float) -> list[str]:
    """Beats a minute: the line of what was to be expected, and a dot for each bar."""
    tempo = report.tempo
    if tempo is None or not bars:
        return []
    beats = [bar.tempo / float(tempo.beat) for bar in bars]
    smooth = [bar.expected_tempo / float(tempo.beat) for bar in bars]
    middle = tempo.beats_per_minute
    low = max(min([*smooth, *beats, middle * (1 - LEAST_SPAN)]), middle * (1 - MOST_SPAN)) * 0.98
    high = min(max([*smooth, *beats, middle * (1 + LEAST_SPAN)]), middle * (1 + MOST_SPAN)) * 1.02

    def y(value: float) -> float:
        share = (min(high, max(low, value)) - low) / (high - low)
        return TOP + TEMPO_HEIGHT * (1 - share)

    width = step * len(bars)
    out = [draw.box((LEFT, TOP), width, TEMPO_HEIGHT, "none", draw.HAIR)]
    for value in _round_values(low, high):
        out.append(draw.line((LEFT, y(value)), (LEFT + width, y(value)), draw.FAINT, 0.8))
        out.append(draw.text((LEFT - 5, y(value) + 3.4), f"{value:g}", draw.SMALL, "end"))
    out.append(draw.text((2.0, TOP + 9.0), "beats", draw.SMALL))
    out.append(draw.text((2.0, TOP + 20.0), "a min.", draw.SMALL))
    points = [(LEFT + (k + 0.5) * step, y(value)) for k, value in enumerate(smooth)]
    if len(points) > 1:
        out.append(draw.path(points, draw.INK, 1.1))
    for k, (value, bar) in enumerate(zip(beats, bars, strict=True)):
        at = (LEFT + (k + 0.5) * step, y(value))
        steady = bar.verdict is BarVerdict.STEADY
        fill = draw.QUIET if steady else draw.INK
        radius = 1.5 if steady else 2.6
        out.append(f'<circle cx="{at[0]:.2f}" cy="{at[1]:.2f}" r="{radius:g}" fill="{fill}"/>')
    return out


def _round_values(low: float, high: float) -> list[float]:
    """A few round numbers within, for the lines of the scale."""
    step = next(s for s in (1, 2, 5, 10, 20, 50, 100, 1000) if (high - low) / s <= 5)
    first = int(low // step + 1) * step
    return [float(first + k * step) for k in range(int((high - first) // step) + 1)]


def _timing(bars: Sequence[BarTiming], step: float, top: float) -> list[str]:
    """Columns up for bars that drag, down for bars that rush."""
    middle = top + TIMING_HEIGHT / 2
    width = step * len(bars)
    out = [
        draw.box((LEFT, top), width, TIMING_HEIGHT, "none", draw.HAIR),
        draw.line((LEFT, middle), (LEFT + width, middle), draw.INK, 0.7),
        draw.text((LEFT - 5, top + 9.0), "drags", draw.SMALL, "end"),
        draw.text((LEFT - 5, top + TIMING_HEIGHT - 3.0), "rushes", draw.SMALL, "end"),
    ]
    labels: list[str] = []
    for k, bar in enumerate(bars):
        share = bar.late / bar.expected
        length = min(1.0, abs(share) / MOST_LATE) * TIMING_HEIGHT / 2
        steady = bar.verdict is BarVerdict.STEADY
        x = LEFT + k * step + 0.15 * step
        corner = (x, middle - length if share > 0 else middle)
        out.append(draw.box(corner, 0.7 * step, length, draw.HAIR if steady else draw.INK))
        if not steady:
            labels += _label(bar, x, 0.7 * step, middle, LEFT + width)
    return out + labels  # on top of the columns beside


def _label(bar: BarTiming, x: float, column: float, middle: float, right: float) -> list[str]:
    """How many percent, beside the column at `x`, on the left where the right has no room."""
    words = f"{bar.percent:+.0f} %".replace("-", "−")
    wide = len(words) * draw.SMALL * 0.5 + 3
    before = x + column + 2.5 + wide > right
    at = (x - 2.5 if before else x + column + 2.5, middle + (-11.0 if bar.late > 0 else 18.0))
    corner = (at[0] - (wide if before else 1.5), at[1] - 8.5)
    return [
        draw.box(corner, wide, 10.5, draw.WHITE),
        draw.text(at, words, draw.SMALL, "end" if before else "start", "bold"),
    ]


def _numbers(bars: Sequence[BarTiming], step: float, foot: float) -> list[str]:
    """Bar numbers where there is room: the first of each part before every fourth bar."""
    out = [draw.text((LEFT - 5, foot + 13.0), "bar", draw.SMALL, "end")]
    claims = []
    k = 0
    for _, group in groupby(bars, lambda bar: (bar.part, bar.part_time)):
        inside = list(group)
        full = [i for i, bar in enumerate(inside) if bar.number]
        for count, i in enumerate(full):
            rank = 0 if count == 0 else 1 if count % 4 == 0 else 2
            claims.append((rank, LEFT + (k + i + 0.5) * step, inside[i].number))
        k += len(inside)
    drawn: list[float] = []
    for _, x, number in sorted(claims):
        if all(abs(x - other) >= NUMBER_ROOM for other in drawn):
            drawn.append(x)
            out.append(draw.text((x, foot + 13.0), str(number), draw.SMALL, "middle"))
    return out


def _tempo_words(report: TakeReport, bars: Sequence[BarTiming]) -> str:
    tempo = report.tempo
    if tempo is None:
        return "No tempo could be told."
    said = [f"Tempo by bar, around {tempo.beats_per_minute:.0f} beats a minute"]
    for verdict, verb in (
        (BarVerdict.DRAGGED, "dragged"),
        (BarVerdict.RUSHED, "rushed"),
        (BarVerdict.STOPPED, "stopped in"),
    ):
        numbers = [bar.number for bar in bars if bar.verdict is verdict]
        if numbers:
            said.append(f"{verb}: {bars_text(numbers)}")
    if len(said) == 1:
        said.append("no bar stands out")
    return "; ".join(said) + "."


def pitch_drawing(report: TakeReport, width_mm: float) -> Strip | None:
    """Each hole's notes in cents off the temperament; None where no pitch was heard."""
    points: dict[tuple[int, int, str], list[float]] = defaultdict(list)
    for note in report.notes:
        way = note.sounding
        if way is None or note.is_grace or note.cents is None or note.verdict is Verdict.WRONG:
            continue
        bent = "bent" if way.technique is not Technique.NATURAL else way.breath.value
        points[way.hole, way.midi, bent].append(note.cents)
    if not points:
        return None
    width = width_mm * draw.PIXELS_PER_MM
    holes = sorted({hole for hole, _, _ in points})
    step = min(HOLE_WIDTH, (width - LEFT - RIGHT) / len(holes))
    middle = TOP + PITCH_HEIGHT / 2
    span = step * len(holes)
    out = [draw.box((LEFT, TOP), span, PITCH_HEIGHT, "none", draw.HAIR)]
    for cents in (-40, -20, 0, 20, 40):
        y = middle - cents / MOST_CENTS * PITCH_HEIGHT / 2
        out.append(
            draw.line((LEFT, y), (LEFT + span, y), draw.INK if not cents else draw.FAINT, 0.7)
        )
        label = f"{cents:+d}".replace("-", "−") if cents else "0"
        out.append(draw.text((LEFT - 5, y + 3.4), label, draw.SMALL, "end"))
    out.append(
        draw.text(
            (
                LEFT - 5,
                TOP + PITCH_HEIGHT + 13,
            ),
            "hole",
            draw.SMALL,
            "end",
        )
    )
    for k, hole in enumerate(holes):
        here = sorted(key for key in points if key[0] == hole)
        x = LEFT + (k + 0.5) * step
        out.append(draw.text((x, TOP + PITCH_HEIGHT + 13), str(hole), draw.SMALL, "middle"))
        if k:
            edge = LEFT + k * step
            out.append(draw.line((edge, TOP), (edge, TOP + PITCH_HEIGHT), draw.FAINT, 0.7))
        for place, key in enumerate(here):
            at = LEFT + k * step + step * (place + 1) / (len(here) + 1)
            out += _hole_pitch(at, middle, sorted(points[key]), key[2])
    words = _pitch_words(report)
    height = TOP + PITCH_HEIGHT + 17
    svg = draw.document(width, height, "Pitch of each hole", words, out)
    return Strip(svg, width_mm, height / draw.PIXELS_PER_MM, words)


def _hole_pitch(x: float, middle: float, cents: Sequence[float], kind: str) -> list[str]:
    """The middle as a sign by breath, the middle half of the notes as a line."""

    def y(value: float) -> float:
        return middle - max(-MOST_CENTS, min(MOST_CENTS, value)) / MOST_CENTS * PITCH_HEIGHT / 2

    count = len(cents)
    low, high = cents[count // 4], cents[(3 * count) // 4 if count > 1 else 0]
    at = (x, y(median(cents)))
    out = [draw.line((x, y(low)), (x, y(high)), draw.INK, 1.0)]
    if kind == "bent":
        out.append(draw.diamond(at, 3.6))
    else:
        up = kind == Breath.BLOW.value
        out.append(draw.wedge((x, at[1] - 2.6 if up else at[1] + 2.6), up, 3.4, full=False))
    return out


def _pitch_words(report: TakeReport) -> str:
    off = [
        f"hole {reed.hole} {reed.breath.value} {cents_words(reed.cents)}"
        for reed in report.reeds
        if reed.is_off
    ]
    bends = {
        f"hole {way.hole} {way.breath.value} bent {bend_words(way.bend)}"
        for bend in report.bends
        if bend.verdict is not BendVerdict.REACHED
        and (way := report.notes[bend.note].sounding) is not None
    }
    said = f"Out of tune by themselves: {listed(off)}." if off else "No reed is out of tune."
    if bends:
        said += f" Bends that did not reach or went too far: {listed(sorted(bends))}."
    return f"The pitch of each hole in cents. {said}"
