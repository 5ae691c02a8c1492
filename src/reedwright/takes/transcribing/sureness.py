"""How sure a first notation is, bar by bar and on the whole, and what to tell the player.

Public: `bar_sureness`, `reading_sureness`, `remarks`, `comments`.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log2

from reedwright.takes.transcribing.folding import Line
from reedwright.takes.transcribing.metre import Reading
from reedwright.takes.transcribing.model import Placed, TranscribedBar
from reedwright.tune.model import Bar, Key

# Our own judgement.
UNSURE = 0.6  # below it a bar is named to the player
HEARD_ONCE = 0.93  # what a bar is worth that nothing confirms
OFF_GRID = 0.045  # seconds (root of the mean square) that make a bar half sure
SCORE_SCALE = 9.0  # how far ahead, in score, a reading is nearly sure
SWING_TOLD = 1.25
MOST_BARS_NAMED = 8
CENTS_TOLD = 8.0


def bar_sureness(
    bars: Sequence[Bar], sources: Sequence[int], line: Line
) -> tuple[TranscribedBar, ...]:
    """Of each written bar: notes clear, on the grid, and the same each time through."""
    found: list[TranscribedBar] = []
    for bar, source in zip(bars, sources, strict=True):
        notes = line.bars[source] if source < len(line.bars) else ()
        heard, agreement = line.heard[source], line.agreement[source]
        clear = sum(n.surety for n in notes) / len(notes) if notes else 0.5
        off = _off_grid(notes)
        steady = 1 / (1 + (off / OFF_GRID) ** 2)
        alike = HEARD_ONCE if heard == 1 else agreement
        sureness = min(1.0, clear * steady * alike)
        doubt = ""
        if sureness < UNSURE:
            least = min((clear, "heard faintly"), (steady, "notes fall between the beats"),
                        (alike, "not the same each time through"))  # fmt: skip
            doubt = least[1]
        found.append(TranscribedBar(bar.index, bar.number, round(sureness, 3), heard, doubt))
    return tuple(found)


def _off_grid(notes: Sequence[Placed]) -> float:
    if not notes:
        return 0.0
    return float((sum(n.error**2 for n in notes) / len(notes)) ** 0.5)


def reading_sureness(readings: Sequence[Reading]) -> tuple[float, str]:
    """How sure metre and bar lines are, and what else they might be."""
    best = readings[0]
    seconds = best.ticks / best.quarters_per_minute
    for other in readings[1:]:
        apart = abs(other.ticks / other.quarters_per_minute / seconds - 1)
        if apart < 0.03 and other.kind.meter == best.kind.meter:
            continue
        lead = best.score - other.score
        name = f"{other.kind.meter.name} ({other.kind.name})"
        if other.kind.meter == best.kind.meter:
            name += f" at {other.quarters_per_minute:.0f} crotchets a minute"
        return 1 - exp(-lead / SCORE_SCALE) / 2, name
    return 1.0, ""


def remarks(
    bars: Sequence[TranscribedBar],
    reading: Reading,
    meter_sureness: float,
    meter_doubt: str,
    key: Key,
    key_sureness: float,
    key_doubt: str,
    rounds: int,
    a4: float,
) -> tuple[str, ...]:
    """For the player, the most useful first."""
    found: list[str] = []
    if meter_sureness < 0.8 and meter_doubt:
        found.append(
            f"The metre is written as {reading.kind.meter.name} ({reading.kind.name}), but it "
            f"might be {meter_doubt}. If you know, say so and write it down again."
        )
    if key_sureness < 0.7 and key_doubt:
        found.append(f"The key is taken for {key.name}; it might be {key_doubt}.")
    unsure = [bar for bar in bars if bar.sureness < UNSURE]
    if unsure:
        found.append(_unsure_bars(unsure))
    if rounds > 1:
        found.append(f"The tune was heard {rounds} times round and is written once.")
    if reading.swing >= SWING_TOLD and not reading.kind.meter.compound:
        found.append(
            f"It is played with a lilt of {reading.swing:.1f} to 1 and written in even quavers, "
            "as is usual."
        )
    cents = 1200 * log2(a4 / 440) if a4 > 0 else 0.0
    if abs(cents) >= CENTS_TOLD:
        way = "above" if cents > 0 else "below"
        found.append(f"The playing lies {abs(cents):.0f} cents {way} A 440 (A is {a4:.1f} Hz).")
    return tuple(found)


def _unsure_bars(unsure: Sequence[TranscribedBar]) -> str:
    named = sorted(unsure, key=lambda bar: bar.sureness)[:MOST_BARS_NAMED]
    told = ", ".join(
        f"{bar.number} ({bar.doubt})" for bar in sorted(named, key=lambda bar: bar.index)
    )
    more = f" and {len(unsure) - len(named)} more" if len(unsure) > len(named) else ""
    one = len(unsure) == 1
    return f"{'Bar' if one else 'Bars'} to check by ear: {told}{more}."


def comments(bars: Sequence[TranscribedBar], told: Sequence[str]) -> list[str]:
    """The same as comment lines of ABC, which no reader minds."""
    lines = [f"% {remark}" for remark in told]
    sure = " ".join(f"{bar.number}:{round(100 * bar.sureness)}" for bar in bars)
    if sure:
        lines.append(f"% How sure each bar is, in per cent: {sure}")
    return lines
