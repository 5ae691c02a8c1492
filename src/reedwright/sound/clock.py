"""The clock of a tune as played: quarter notes to seconds, with changes of tempo and holds."""

from __future__ import annotations

from bisect import bisect_right
from fractions import Fraction

from reedwright.sound.events import TempoPoint
from reedwright.tune.model import Change
from reedwright.tune.unfold import Performance

# How much longer a note under a fermata is held (common practice, no source: "half as much
# again to twice").
FERMATA_HOLD = 1.75
_FERMATAS = ("fermata", "invertedfermata")


def tempi_of(performance: Performance, start: float, own: float) -> tuple[TempoPoint, ...]:
    """Every tempo with its place, in quarter notes a minute.

    `start` is the tempo to begin with and `own` the one that the tune itself would begin
    with: a tune asked for faster or slower keeps the proportions of its changes.
    """
    points = {Fraction(0): start}
    for played in performance.bars:
        at = played.onset
        for event in played.bar.events:
            if not isinstance(event, Change):
                at += event.length
            elif event.tempo is not None and event.tempo.quarters_per_minute:
                points[at] = float(event.tempo.quarters_per_minute) * start / own
    ordered = sorted(points.items())
    return tuple(
        TempoPoint(at, tempo)
        for k, (at, tempo) in enumerate(ordered)
        if k == 0 or tempo != ordered[k - 1][1]
    )


class Clock:
    """Seconds from the tune's first beat, for places in quarter notes (before it: negative)."""

    def __init__(
        self, performance: Performance, tempi: tuple[TempoPoint, ...], speed: float
    ) -> None:
        held = [
            (float(played.onset), float(played.onset + played.note.length))
            for played in performance.notes
            if any(each in _FERMATAS for each in played.note.decorations)
        ]
        starts = [float(point.quarter) for point in tempi]
        edges = sorted({0.0, *starts, *(edge for hold in held for edge in hold)})
        self._edges: list[float] = edges
        self._rates: list[float] = []
        for edge in edges:
            tempo = tempi[max(0, bisect_right(starts, edge) - 1)].quarters_per_minute * speed
            hold = FERMATA_HOLD if any(begin <= edge < end for begin, end in held) else 1.0
            self._rates.append(60.0 / tempo * hold)
        self._seconds = [0.0]
        for k in range(1, len(edges)):
            self._seconds.append(self._seconds[-1] + (edges[k] - edges[k - 1]) * self._rates[k - 1])

    def __call__(self, quarter: float) -> float:
        k = max(0, bisect_right(self._edges, quarter) - 1)
        return self._seconds[k] + (quarter - self._edges[k]) * self._rates[k]
