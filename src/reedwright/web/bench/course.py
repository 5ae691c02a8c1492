"""How the reeds of one harp went over the years: their courses drawn, and what is to be said.

A course counts from the harp's last conversion, since a reed that got another note begins anew.
Change is judged as in `workshop.history.comparing`; what all reeds share is breath or warmth and
is taken off before one reed is said to drift.

Public: `Course`, `courses`, `drift_words`, `as_it_is`, `entry_rows`, `EntryRow`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import hypot, log2
from statistics import median
from typing import NamedTuple

from markupsafe import Markup

from reedwright.harp.model import Reed
from reedwright.tab.words import counted
from reedwright.web.templating import day
from reedwright.workshop.history.comparing import BETWEEN_RECORDINGS, SURELY, latest
from reedwright.workshop.history.model import Converted, HeardReed, History, Measured
from reedwright.workshop.measuring.remarks import TOLERANCE, reed_words
from reedwright.workshop.targets.model import Targets

WIDTH, HEIGHT = 180.0, 40.0  # units of the drawing
_EDGE = 6.0
LEAST_SPAN, MOST_SPAN = 10.0, 60.0  # cents, from the middle of the drawing to its edge
DRIFTS = 3.0  # cents, beside the harp as a whole; less is not worth a word. Judgement


class Point(NamedTuple):
    """A reed at one measurement: cents from today's target, and the standard error."""

    date: datetime
    cents: float
    uncertainty: float


@dataclass(frozen=True, slots=True)
class Course:
    """One reed over time, oldest first. `svg` draws it; `words` say the same."""

    reed: Reed
    points: tuple[Point, ...]
    svg: Markup
    words: str

    @property
    def last(self) -> Point | None:
        return self.points[-1] if self.points else None


def courses(history: History, targets: Targets) -> tuple[Course, ...]:
    """A course for each reed of the harp as it is now, against these targets."""
    since = _since_conversion(history)
    points = {target.reed: _points(target.reed, since, targets) for target in targets.reeds}
    dates = [each.date for row in points.values() for each in row]
    farthest = max((abs(each.cents) for row in points.values() for each in row), default=0.0)
    span = min(MOST_SPAN, max(LEAST_SPAN, 1.1 * farthest))
    return tuple(
        Course(reed, row, _drawn(row, dates, span), _words(row)) for reed, row in points.items()
    )


def _since_conversion(history: History) -> tuple[Measured, ...]:
    done = [entry.date for entry in history.by_date if isinstance(entry, Converted)]
    return tuple(each for each in history.measurements if not done or each.date >= done[-1])


def _points(reed: Reed, measured: Sequence[Measured], targets: Targets) -> tuple[Point, ...]:
    found = []
    for each in measured:
        heard = each.of(reed)
        if heard is not None and not heard.others:
            found.append(Point(each.date, _cents(heard, each, targets), heard.uncertainty))
    return tuple(found)


def _cents(heard: HeardReed, measured: Measured, targets: Targets) -> float:
    target = targets.of(heard.reed)
    return 1200 * log2(heard.hz / (target.bench_hz if measured.at_bench else target.hz))


def _drawn(points: Sequence[Point], dates: Sequence[datetime], span: float) -> Markup:
    """The target as a line, the tolerance as a band, the points with their errors."""
    if not points:
        return Markup("")
    first, last = min(dates), max(dates)
    whole = (last - first).total_seconds()

    def x(date: datetime) -> float:
        share = (date - first).total_seconds() / whole if whole else 0.5
        return _EDGE + share * (WIDTH - 2 * _EDGE)

    def y(cents: float) -> float:
        kept = max(-span, min(span, cents))
        return HEIGHT / 2 - kept / span * (HEIGHT / 2 - _EDGE)

    band = y(-TOLERANCE) - y(TOLERANCE)
    drawn = [
        f'<rect class="band" x="0" y="{y(TOLERANCE):.1f}" width="{WIDTH:.0f}" '
        f'height="{band:.1f}"/>',
        f'<line class="target" x1="0" y1="{HEIGHT / 2:.1f}" x2="{WIDTH:.0f}" '
        f'y2="{HEIGHT / 2:.1f}"/>',
    ]
    if len(points) > 1:
        way = " ".join(f"{x(each.date):.1f},{y(each.cents):.1f}" for each in points)
        drawn.append(f'<polyline class="way" points="{way}"/>')
    for each in points:
        at, up, down = x(each.date), each.cents + each.uncertainty, each.cents - each.uncertainty
        drawn.append(
            f'<line class="error" x1="{at:.1f}" y1="{y(up):.1f}" x2="{at:.1f}" y2="{y(down):.1f}"/>'
            f'<circle cx="{at:.1f}" cy="{y(each.cents):.1f}" r="2.6"/>'
        )
    return Markup(  # figures of our own alone
        f'<svg class="course" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" aria-hidden="true" '
        f'focusable="false">{"".join(drawn)}</svg>'
    )


def _words(points: Sequence[Point]) -> str:
    """`+2.9, then −1.0 cents`; of many the first and the last."""
    if not points:
        return "not measured"
    if len(points) == 1:
        return "measured once"
    first, last = points[0], points[-1]
    return (
        f"{signed(first.cents)} on {day(first.date)}, {signed(last.cents)} on "
        f"{day(last.date)}; measured {len(points)} times"
    )


def signed(cents: float) -> str:
    """`+2.9`, `−1.0`; nothing has no sign."""
    if abs(cents) < 0.05:
        return "0.0"
    return f"{cents:+.1f}".replace("-", "\N{MINUS SIGN}")


def drift_words(found: Sequence[Course]) -> tuple[str, ...]:
    """The reeds that have moved by themselves, the farthest first, in sentences.

    Change from a reed's first measurement to its last, less the median of all reeds' changes; said
    where it is over two standard errors and over `DRIFTS` cents.
    """
    moved = {each.reed: (each.points[0], each.points[-1]) for each in found if len(each.points) > 1}
    if not moved:
        return ()
    changes = {reed: last.cents - first.cents for reed, (first, last) in moved.items()}
    whole = median(changes.values()) if len(changes) > 3 else 0.0
    told = []
    for reed, (first, last) in moved.items():
        by = changes[reed] - whole
        doubt = hypot(first.uncertainty, last.uncertainty, BETWEEN_RECORDINGS)
        if abs(by) <= max(DRIFTS, SURELY * doubt):
            continue
        way = "risen" if by > 0 else "sunk"
        why = (
            "Was it worked on? If not, look for dirt and a loose rivet."
            if by > 0
            else "A reed that goes on sinking may be about to break: look at it closely."
        )
        told.append(
            (
                abs(by),
                f"{reed_words(reed)} has {way} by {abs(by):.1f} cents since "
                f"{day(first.date)}, against the other reeds. {why}",
            )
        )
    said = [words for _, words in sorted(told, reverse=True)]
    if abs(whole) > DRIFTS:
        way = "higher" if whole > 0 else "lower"
        said.append(
            f"All reeds together lie {abs(whole):.1f} cents {way} than at first: where none was "
            "worked on, that is breath or warmth."
        )
    return tuple(said)


def as_it_is(history: History) -> Measured | None:
    """Each reed as it was last measured, as one measurement; None where nothing is known."""
    known = latest(history)
    heard: dict[Reed, HeardReed] = {}
    bench: dict[Reed, bool] = {}
    for each in history.measurements:
        for one in each.reeds:
            if one.reed in known:
                heard[one.reed], bench[one.reed] = one, each.at_bench
    if not heard:
        return None
    last = history.measurements[-1]
    alike = {reed: one for reed, one in heard.items() if bench[reed] == last.at_bench}
    return Measured(
        last.date,
        "check",
        tuple(alike[reed] for reed in sorted(alike)),
        last.tuned_to,
        last.at_bench,
        median(one.cents for one in alike.values()),
    )


class EntryRow(NamedTuple):
    """One entry as the page lists it."""

    date: datetime
    kind: str
    words: str
    note: str


_WHEN: Mapping[str, str] = {
    "before": "Measured before work",
    "after": "Measured after work",
    "check": "Measured",
}


def entry_rows(history: History) -> tuple[EntryRow, ...]:
    """The entries, the newest first."""
    rows = []
    for entry in reversed(history.by_date):
        if isinstance(entry, Measured):
            rows.append(
                EntryRow(
                    entry.date,
                    _WHEN.get(entry.when, "Measured"),
                    _measured_words(entry),
                    entry.note,
                )
            )
        elif isinstance(entry, Converted):
            done = ", ".join(f"{reed_words(reed)} {work}" for reed, work in entry.works)
            rows.append(EntryRow(entry.date, "Converted", f"{entry.harp} {done}", entry.note))
        else:
            kind = "Note" if entry.kind == "note" else entry.kind
            rows.append(EntryRow(entry.date, kind, "", entry.note))
    return tuple(rows)


def _measured_words(entry: Measured) -> str:
    """`4 draw +13.0` of a few reeds; of many how many, and how many are off."""
    said = []
    if entry.reeds and len(entry.reeds) <= 3:
        said.append(
            ", ".join(f"{reed_words(each.reed)} {signed(each.cents)} cents" for each in entry.reeds)
        )
    elif entry.reeds:
        off = sum(abs(each.cents) > TOLERANCE for each in entry.reeds)
        said.append(
            f"{counted(len(entry.reeds), 'reed')}, "
            + (f"{off} more than {TOLERANCE:g} cents off" if off else "all near their targets")
        )
    for beats in entry.beats:
        pair = " and ".join(reed_words(reed) for reed in beats.reeds)
        said.append(f"{pair} beat {beats.rate:.2f} times a second")
    where = "" if entry.at_bench else ", as played"
    return f"{'; '.join(said)} (against {entry.tuned_to or 'its targets'}{where})"
