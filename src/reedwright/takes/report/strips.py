"""The take on paper, note by note: the pitch track over the written notes, some bars a strip.

Each strip is a part or eight bars of one, as wide as the page, time running evenly from left to
right. Every note that the tune has here is a lane with its name and its hole. A grey block is a
written note. What became of it is told by shape: a cross in a dashed block was missed, a
diamond is what was played instead, a circle with a plus is not written, a small ring is an
ornament of the player's own, a wedge says that a bend stayed sharp (up) or flat (down).

Public: `strips`, `Strip`, `legend`.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import log2
from typing import NamedTuple

from reedwright.harp.layout import note_name
from reedwright.tab.notation import tab_sign
from reedwright.tab.words import counted, ordinal_word
from reedwright.takes.model import FollowedBar
from reedwright.takes.report import drawing as draw
from reedwright.takes.report.model import (
    AddedNote,
    BarTiming,
    BarVerdict,
    BendVerdict,
    JudgedNote,
    TakeReport,
    Verdict,
)

BARS_A_STRIP = 8
FEWEST_LEFT = 3  # bars; fewer join the strip before
LANE, BLOCK = 10.6, 7.4  # pixels: from lane to lane, and height of a written note
LEFT, RIGHT, TOP, BOTTOM = 56.0, 4.0, 19.0, 17.0
SHORTEST_BLOCK = 2.0
JUMP = 70.0  # cents from frame to frame beyond which the pitch line is broken
FRAME_STEP = 0.01  # seconds from one drawn frame to the next
FARTHEST = 5  # semitones beyond the tune's notes that get a lane
BEYOND = 0.9  # lanes above and below the outermost that the pitch line may reach


class Strip(NamedTuple):
    """One drawing with what it shows in words. Sizes in mm."""

    svg: str
    width: float
    height: float
    words: str


@dataclass(frozen=True, slots=True)
class _Lanes:
    """The notes that have a lane, from low to high, and where those lie."""

    midis: tuple[int, ...]
    top: float

    @property
    def height(self) -> float:
        return LANE * max(1, len(self.midis))

    def y(self, midi: float) -> float:
        """Between two lanes in proportion, beyond the outermost by semitones, but not far."""
        k = bisect_right(self.midis, midi) - 1
        if k < 0:
            place = max(-BEYOND, midi - self.midis[0])
        elif k + 1 >= len(self.midis):
            place = k + min(BEYOND, midi - self.midis[-1])
        else:
            low, high = self.midis[k], self.midis[k + 1]
            place = k + (midi - low) / (high - low)
        return self.top + LANE * (len(self.midis) - 0.5 - place)


@dataclass(frozen=True, slots=True)
class _Across:
    start: float
    end: float
    width: float

    def __call__(self, seconds: float) -> float:
        share = (seconds - self.start) / max(1e-6, self.end - self.start)
        return LEFT + self.width * min(1.0, max(0.0, share))


def strips(report: TakeReport, width_mm: float) -> tuple[Strip, ...]:
    """The whole take as strips of `width_mm`."""
    timings = {bar.index: bar for bar in report.bars}
    groups = _groups(report.following.bars)
    return tuple(_strip(report, group, timings, width_mm) for group in groups)


def _lanes(report: TakeReport, notes: Sequence[JudgedNote], added: Sequence[AddedNote]) -> _Lanes:
    """One lane for each note of the tune, and here for those played instead or besides."""
    midis = {note.midi for note in report.notes}
    low, high = min(midis, default=60) - FARTHEST, max(midis, default=72) + FARTHEST
    midis |= {note.heard_midi for note in notes if note.heard_midi is not None}
    midis |= {note.midi for note in added if low <= note.midi <= high}
    return _Lanes(tuple(sorted(midis)), TOP)


def _groups(bars: Sequence[FollowedBar]) -> list[list[int]]:
    """Bars that share a strip, as indices: a part, or eight full bars of it."""
    groups: list[list[int]] = []
    full = max((bar.length for bar in bars), default=0)
    count = 0
    for k, bar in enumerate(bars):
        whole = bar.length * 2 > full
        before = bars[k - 1] if k else None
        turned = before is None or (bar.part, bar.part_time) != (before.part, before.part_time)
        left = sum(
            1
            for other in bars[k : k + FEWEST_LEFT]
            if (other.part, other.part_time) == (bar.part, bar.part_time)
        )
        if turned or (count >= BARS_A_STRIP and whole and left >= FEWEST_LEFT):
            groups.append([])
            count = 0
        groups[-1].append(k)
        count += whole
    return groups


def _strip(
    report: TakeReport,
    group: list[int],
    timings: dict[int, BarTiming],
    width_mm: float,
) -> Strip:
    bars = [report.following.bars[k] for k in group]
    width = width_mm * draw.PIXELS_PER_MM
    across = _Across(bars[0].start, bars[-1].end, width - LEFT - RIGHT)
    notes = [n for bar in bars for n in report.notes[bar.first : bar.last]]
    added = [n for n in report.added if across.start <= n.start < across.end]
    lanes = _lanes(report, notes, added)
    height = TOP + lanes.height + BOTTOM
    bends = {
        bend.note: bend.verdict for bend in report.bends if bend.verdict is not BendVerdict.REACHED
    }
    out = _ground(report, notes, lanes, width)
    out += _bar_lines(bars, [timings.get(k) for k in group], lanes, across)
    for note in notes:
        out += _written(note, lanes, across)
    out += _track(report, lanes, across)
    for note in notes:
        out += _fault(note, bends.get(note.index), lanes, across)
    out += [_besides(note, lanes, across) for note in added]
    words = _words(bars, notes, added, [timings.get(k) for k in group])
    svg = draw.document(width, height, _title(bars), words, out)
    return Strip(svg, width_mm, height / draw.PIXELS_PER_MM, words)


def _ground(
    report: TakeReport, notes: Sequence[JudgedNote], lanes: _Lanes, width: float
) -> list[str]:
    """Lanes with their names: the note, and where it lies by the tab."""
    ways = {n.midi: n.sounding for n in report.notes if n.sounding and not n.is_grace}
    graces = {n.midi: n.sounding for n in report.notes if n.sounding and n.is_grace}
    here = {note.midi for note in notes}
    out = []
    for midi in lanes.midis:
        y = lanes.y(midi)
        out.append(draw.line((LEFT, y), (width - RIGHT, y), draw.FAINT, 0.7))
        fill = draw.INK if midi in here else draw.QUIET
        name = note_name(midi, report.harp)
        out.append(draw.text((22.0, y + 3.4), _signs(name), draw.SMALL, "end", fill=fill))
        way = ways.get(midi) or graces.get(midi)
        if way is not None:
            sign = tab_sign(way)
            out.append(draw.text((28.0, y + 3.4), sign, draw.SMALL, font=draw.TAB_FONT, fill=fill))
    return out


def _signs(name: str) -> str:
    return name[0] + name[1:].replace("#", "♯").replace("b", "♭")


def _bar_lines(
    bars: Sequence[FollowedBar],
    timings: Sequence[BarTiming | None],
    lanes: _Lanes,
    across: _Across,
) -> list[str]:
    """Bar lines, printed numbers below, and where bars are early or late."""
    bottom = lanes.top + lanes.height
    out = [draw.text((LEFT, lanes.top - 7.0), _title(bars), draw.LABEL, weight="bold")]
    for bar, timing in zip(bars, timings, strict=True):
        x, end = across(bar.start), across(bar.end)
        out.append(draw.line((x, lanes.top), (x, bottom + 3), draw.HAIR, 0.7))
        if bar.number and end - x > 12:
            out.append(draw.text((x + 3, bottom + 12), str(bar.number), draw.SMALL))
        if timing is not None and timing.verdict is not BarVerdict.STEADY:
            out += _timing(timing, x, end, bottom)
    x = across(bars[-1].end)
    out.append(draw.line((x, lanes.top), (x, bottom + 3), draw.HAIR, 0.7))
    return out


def _timing(timing: BarTiming, x: float, end: float, bottom: float) -> list[str]:
    """A bracket under the bar, with how much longer or shorter it is."""
    words = {
        BarVerdict.DRAGGED: f"drags {timing.percent:.0f} %",
        BarVerdict.RUSHED: f"rushed {-timing.percent:.0f} %",
        BarVerdict.STOPPED: "stopped",
    }[timing.verdict]
    y = bottom + 3.4
    bracket = [(x + 1.5, y - 3), (x + 1.5, y), (end - 1.5, y), (end - 1.5, y - 3)]
    return [
        draw.path(bracket, draw.INK, 1.2),
        draw.text((x + 18, bottom + 13), words, draw.SMALL, weight="bold"),
    ]


def _written(note: JudgedNote, lanes: _Lanes, across: _Across) -> list[str]:
    """The block of a note: full where it was played, else dashed."""
    x, end = across(note.start), across(note.end)
    height = BLOCK if not note.is_grace else BLOCK - 2.2
    corner = (x + 0.4, lanes.y(note.midi) - height / 2)
    width = max(SHORTEST_BLOCK, end - x - 0.8)
    if note.verdict is Verdict.PLAYED:
        return [draw.box(corner, width, height, draw.BAND, round_=1.5)]
    return [draw.box(corner, width, height, draw.WHITE, draw.INK, "2 1.6", 1.5)]


def _fault(note: JudgedNote, bend: BendVerdict | None, lanes: _Lanes, across: _Across) -> list[str]:
    x = (across(note.start) + across(note.end)) / 2
    y = lanes.y(note.midi)
    if note.is_grace:
        return []
    if note.verdict is Verdict.MISSED:
        return [draw.cross((x, y))]
    if note.verdict is Verdict.WRONG and note.heard_midi is not None:
        return [draw.diamond((x, lanes.y(note.heard_midi)))]
    if bend is not None:
        sharp = bend is BendVerdict.SHARP
        return [draw.wedge((x, y + (-12.0 if sharp else 12.0)), sharp)]
    return []


def _besides(note: AddedNote, lanes: _Lanes, across: _Across) -> str:
    at = ((across(note.start) + across(note.end)) / 2, lanes.y(note.midi))
    return draw.ring(at) if note.is_ornament else draw.plus(at)


def _track(report: TakeReport, lanes: _Lanes, across: _Across) -> list[str]:
    """The pitch as heard, broken where nothing sounds or where it leaps."""
    track = report.following.heard.track
    step = max(1, round(FRAME_STEP / track.hop))
    window = track.frames(across.start, across.end)
    times = track.times[window][::step].tolist()
    hz = track.hz[window][::step].tolist()
    runs: list[list[draw.Point]] = [[]]
    last = 0.0
    for time, each in zip(times, hz, strict=True):
        if each <= 0:
            last = 0.0
            continue
        midi = 69 + 12 * log2(each / report.a4)
        if not last or abs(midi - last) * 100 > JUMP:
            runs.append([])
        last = midi
        runs[-1].append((across(time), lanes.y(midi)))
    return [draw.path(draw.thinned(run), draw.INK, 0.95) for run in runs if len(run) > 1]


def _title(bars: Sequence[FollowedBar]) -> str:
    numbers = [bar.number for bar in bars if bar.number]
    first, last = (numbers[0], numbers[-1]) if numbers else (0, 0)
    span = f"bars {first} to {last}" if last > first else f"bar {first}"
    part = bars[0].part
    if not part:
        return span.capitalize()
    again = f", {ordinal_word(bars[0].part_time)} time" if bars[0].part_time > 1 else ""
    return f"Part {part}{again}: {span}"


def _words(
    bars: Sequence[FollowedBar],
    notes: Iterable[JudgedNote],
    added: Sequence[AddedNote],
    timings: Iterable[BarTiming | None],
) -> str:
    """The strip for those who hear the page."""
    proper = [n for n in notes if not n.is_grace]
    missed = sum(n.verdict is Verdict.MISSED for n in proper)
    wrong = sum(n.verdict is Verdict.WRONG for n in proper)
    more = sum(not n.is_ornament for n in added)
    said = [f"{_title(bars)}, pitch over the written notes: {counted(len(proper), 'note')}"]
    parts = [
        f"{count} {what}"
        for count, what in ((missed, "missed"), (wrong, "wrong"), (more, "added"))
        if count
    ]
    said.append(", ".join(parts) if parts else "all as written")
    off = [
        f"bar {t.number} {t.verdict.value}" for t in timings if t and t.verdict != BarVerdict.STEADY
    ]
    return "; ".join([*said, *off]) + "."


def legend(width_mm: float) -> Strip:
    """What the signs mean."""
    width = width_mm * draw.PIXELS_PER_MM
    block = draw.box((0.0, -7.0), 20.0, BLOCK, draw.BAND, round_=1.5)
    dashed = draw.box((0.0, -7.0), 20.0, BLOCK, draw.WHITE, draw.INK, "2 1.6", 1.5)
    curve = [(0.0, -2.0), (5.0, -3.6), (10.0, -3.0), (15.0, -4.0), (20.0, -3.4)]
    signs = (
        (block, 20.0, "written"),
        (draw.path(curve, draw.INK, 0.95), 20.0, "heard"),
        (dashed + draw.cross((10.0, -3.3)), 20.0, "missed"),
        (draw.diamond((4.5, -3.3)), 9.0, "played in its place"),
        (draw.plus((4.0, -3.3)), 8.0, "not written"),
        (draw.ring((2.5, -3.3)), 5.0, "ornament of your own"),
        (draw.wedge((3.5, -6.5), True), 7.0, "bend stays sharp"),
        (draw.wedge((3.5, -0.5), False), 7.0, "bend too deep"),
    )
    out: list[str] = []
    x, y = 0.0, 12.0
    for sign, sign_width, words in signs:
        wanted = sign_width + 5.0 + len(words) * draw.LABEL * 0.43
        if x + wanted > width:
            x, y = 0.0, y + 17.0
        out.append(f'<g transform="translate({x:.2f} {y:.2f})">{sign}</g>')
        out.append(draw.text((x + sign_width + 5.0, y), words, draw.LABEL))
        x += wanted + 11.0
    words = f"The signs: {', '.join(meaning for _, _, meaning in signs)}."
    svg = draw.document(width, y + 6.0, "The signs", words, out)
    return Strip(svg, width_mm, (y + 6.0) / draw.PIXELS_PER_MM, words)
