"""The grade, its reasons and the hardest bars: as text for a terminal and as JSON.

The shapes are documented in docs/formats.md.

Public: `difficulty_report`, `difficulty_text`, `difficulty_line`, `grade_words`.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from reedwright.tab.arrangement import Arrangement
from reedwright.tab.difficulty.grade import Difficulty
from reedwright.tab.difficulty.hardest import BarWork
from reedwright.tab.difficulty.scale import HIGHEST, grade_text
from reedwright.tab.words import bars_text, counted

_DECIMALS = 3
NARROWEST, USUAL_WIDTH = 40, 80  # columns of a terminal


def difficulty_report(
    arrangement: Arrangement, found: Difficulty, hardest: Sequence[BarWork]
) -> dict[str, object]:
    """JSON-ready. Work is effort a second; shares are of 1."""
    return {
        "title": arrangement.tune.title,
        "number": arrangement.tune.number,
        "harp": arrangement.harp.name,
        "octaves": arrangement.octaves,
        "semitones": arrangement.semitones,
        "player": arrangement.player.name,
        "quarters_per_minute": arrangement.quarters_per_minute,
        "grade": found.grade,
        "grade_word": found.word,
        "scale_place": round(found.place, _DECIMALS),
        "work": round(found.work, _DECIMALS),
        "seconds": round(found.seconds, _DECIMALS),
        "complete": arrangement.complete,
        "reasons": [
            {
                "reason": reason.kind.value,
                "figure": reason.figure,
                "unit": reason.unit,
                "words": reason.words,
                "work": round(reason.work, _DECIMALS),
                "share": round(reason.share, _DECIMALS),
                "bars": list(reason.bars),
            }
            for reason in found.reasons
        ],
        "hardest_bars": [
            {
                "bar": bar.number,
                "alike": list(bar.alike),
                "times_played": bar.times,
                "effort": bar.effort,
                "work": round(bar.work, _DECIMALS),
                "grade": bar.grade,
                "reasons": {
                    kind.value: round(effort, _DECIMALS) for kind, effort in bar.reasons.items()
                },
                "spots": [
                    {"words": spot.words, "effort": round(spot.effort, _DECIMALS)}
                    for spot in bar.spots
                ],
            }
            for bar in hardest
        ],
    }


def grade_words(found: Difficulty) -> str:
    """`Grade 6.5 of 10, hard`."""
    return f"Grade {grade_text(found.grade)} of {grade_text(HIGHEST)}, {found.word}"


def difficulty_text(
    arrangement: Arrangement,
    found: Difficulty,
    hardest: Sequence[BarWork],
    width: int = USUAL_WIDTH,
) -> str:
    """The grade with its reasons and the hardest bars, for a terminal."""
    tempo = f"{found.quarters_per_minute:g} quarter notes a minute"
    lines = [
        f"{arrangement.tune.title}, on the {arrangement.harp.name}, at {tempo}",
        f'{grade_words(found)}, for the player "{found.player}".',
    ]
    lacking = len(arrangement.missing)
    if lacking:
        lines.append(f"{counted(lacking, 'note')} missing on this harp; the grade counts them in.")
    if not found.reasons:
        return "\n".join([*lines, "There is nothing to play."])
    lines.append("")
    longest = max(len(reason.kind.value) for reason in found.reasons)
    for reason in found.reasons:
        share = f"{reason.share:4.0%}" if reason.work else "   -"
        lines += _hanging(f"  {reason.kind.value:{longest}}  {share}  ", reason.words, width)
    if hardest:
        lines += ["", "Hardest bars"]
        for bar in hardest:
            name = "upbeat" if bar.number == 0 else f"bar {bar.number}"
            head = f"  {name:7}  like grade {grade_text(bar.grade):4}  "
            alike = f" (the same: {bars_text(bar.alike)})" if bar.alike else ""
            lines += _hanging(head, bar.why + alike, width)
    return "\n".join(lines)


def _hanging(head: str, text: str, width: int) -> list[str]:
    """`text` beside `head`, wrapped."""
    return textwrap.wrap(
        text, max(width, NARROWEST), initial_indent=head, subsequent_indent=" " * len(head)
    ) or [head.rstrip()]


def difficulty_line(arrangement: Arrangement, found: Difficulty) -> str:
    """One line a tune: grade, title, harp, main reason."""
    main = found.main
    why = f"{main.kind.value}: {main.words}" if main else "nothing to play"
    missing = len(arrangement.missing)
    if missing:
        why = f"{counted(missing, 'note')} missing; {why}"
    return (
        f"{grade_text(found.grade):>4}  {found.word:9}  "
        f"{arrangement.tune.title}  ({arrangement.harp.name})  {why}"
    )
