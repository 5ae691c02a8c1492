"""What the search found, for a terminal and as plain data.

Public: `search_text`, `search_title`, `found_text`, `found_tuning`, `search_report`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from textwrap import wrap

from reedwright.harp.model import Tuning
from reedwright.harp.naming import spell
from reedwright.tab.words import counted, moved_words, number_word
from reedwright.workshop.search.model import (
    Found,
    Layout,
    SearchResult,
    layout_tuning,
    layout_words,
)

BY_EFFORT, BY_PLAIN = "effort", "no-bends"
ORDERS = (BY_EFFORT, BY_PLAIN)

_HOME = "C"  # notes are told as on a harp in C
_DECIMALS = 6
_MOST_TITLES = 8  # of tunes won or lost, on a terminal
_PERCENT = 100.0
_WIDTH = 96  # columns of prose; about as wide as the tables


def search_text(
    result: SearchResult,
    player: str,
    most: int,
    order: str = BY_EFFORT,
    tunes: bool = False,
) -> str:
    """The best layouts of each number of reeds and the frontier, as tables.

    `player`: name of the profile. `most`: rows of each table. `order`: one of `ORDERS`. `tunes`:
    also which tunes the best of each number of reeds wins and loses.
    """
    base = result.base
    count = len(result.titles)
    lines = [
        f"{search_title(result, player)}: each tune on the best of "
        f"{counted(len(result.wishes.keys), 'key')}{_moved(result)}.",
        f"As it is: {base.plain} of {count} with no bends, {base.playable} with no note missing, "
        f"effort {base.effort:.3f} a note.",
    ]
    ranked = result.best if order == BY_EFFORT else result.plainest
    for reeds, rows in enumerate(ranked, start=1):
        if not rows:
            lines += ["", _nothing(result, reeds)]
            continue
        lines += ["", _heading(result, reeds, order), ""]
        lines += _table(result, rows[:most])
        if tunes:
            lines += ["", *_tunes(result, rows[0])]
    shown, left = _within(result.frontier, most)
    lines += [
        "",
        "The frontier: no other layout is better in reeds changed, effort and share to relearn "
        "at once.",
        "",
        *_table(result, shown, numbered=False),
    ]
    if left:
        lines.append(f"and {left} more that take less to relearn (--plot, --json)")
    return "\n".join(lines)


def found_text(found: Found) -> str:
    """One line: `3 blow up 2: 12 tunes with no bends, effort 1.234 a note`."""
    score = found.score
    return (
        f"{layout_words(found.layout)}: {counted(score.plain, 'tune')} with no bends, "
        f"effort {score.effort:.3f} a note"
    )


def search_title(result: SearchResult, player: str) -> str:
    """What was searched for, in a line: `7 tunes, player 'first-year', from Richter`."""
    return (
        f"{counted(len(result.titles), 'tune')}, player '{player}', from {result.wishes.base.title}"
    )


def found_tuning(result: SearchResult, found: Found, player: str) -> Tuning:
    """The tuning of a layout, described by what it was found for."""
    tuning = layout_tuning(result.wishes.base, found.layout)
    score, base = found.score, result.base
    count = len(result.titles)
    return replace(
        tuning,
        description=f"{tuning.description} Found for {counted(count, 'tune')} and the player "
        f"'{player}': {score.plain} with no bends ({base.plain} before), effort "
        f"{score.effort:.3f} a note ({base.effort:.3f} before).",
        source="A search over tunes (docs/tuning-search.md).",
    )


def _moved(result: SearchResult) -> str:
    most = max((abs(octaves) for octaves in result.wishes.octaves), default=0)
    if len(result.wishes.octaves) == 1:
        only = result.wishes.octaves[0]
        return f", moved {moved_words(only, 0)}" if only else ", in its own octave"
    return f", moved by up to {counted(most, 'octave')}"


def _heading(result: SearchResult, reeds: int, order: str) -> str:
    changed = f"{counted(reeds, 'reed', number=number_word).capitalize()} changed"
    if reeds <= result.exact:
        return f"{changed}. All ways were tried: there is none better."
    if order == BY_PLAIN and reeds in result.plain_bounds:
        most = result.plain_bounds[reeds]
        return f"{changed}. Not all ways were tried; none can have more than {most} with no bends."
    if reeds in result.bounds:
        least = result.bounds[reeds]
        return f"{changed}. Not all ways were tried; proven is only that none is under {least:.3f}."
    return f"{changed}. Not all ways were tried."


def _nothing(result: SearchResult, reeds: int) -> str:
    changed = f"{counted(reeds, 'reed', number=number_word).capitalize()} changed"
    how = "All" if reeds <= result.exact else "Many"
    return f"{changed}. {how} ways were tried; one reed more gains nothing."


def _table(result: SearchResult, rows: Sequence[Found], numbered: bool = True) -> list[str]:
    """Changes, tunes with no bends (won and lost), effort (less by), share to relearn."""
    names = [layout_words(row.layout) for row in rows]
    width = max(len("changed"), *(len(name) for name in names)) if names else 0
    rank = len(str(len(rows)))
    lead = f"{'':{rank}}  " if numbered else ""
    lines = [f"{lead}{'changed':{width}}  no bends  (won lost)  effort  (saved)  relearn"]
    for number, (name, row) in enumerate(zip(names, rows, strict=True), start=1):
        score = row.score
        start = f"{number:{rank}}  " if numbered else ""
        turned = f"(+{len(row.won)} -{len(row.lost)})"
        saved = f"({result.base.effort - score.effort:.3f})"
        share = f"{_PERCENT * score.relearned:.1f} %"
        lines.append(
            f"{start}{name:{width}}  {score.plain:8}  {turned:>10}  {score.effort:6.3f}  "
            f"{saved:>7}  {share:>7}"
        )
    return lines


def _tunes(result: SearchResult, row: Found) -> list[str]:
    return [
        line
        for verb, indexes in (("won", row.won), ("lost", row.lost))
        for line in wrap(
            f"{layout_words(row.layout)}, tunes {verb}: {_titles(result, indexes)}",
            _WIDTH,
            subsequent_indent="    ",
        )
    ]


def _titles(result: SearchResult, indexes: Sequence[int]) -> str:
    if not indexes:
        return "none"
    titles = [result.titles[index] for index in indexes]
    if len(titles) <= _MOST_TITLES:
        return "; ".join(titles)
    return f"{'; '.join(titles[:_MOST_TITLES])}; and {len(titles) - _MOST_TITLES} more"


def _within(frontier: Sequence[Found], most: int) -> tuple[tuple[Found, ...], int]:
    """The easiest of each number of reeds first, then others as there is room; in their order.

    Second, how many are left out.
    """
    seen: set[int] = set()
    easiest: list[Found] = []
    others: list[Found] = []
    for row in frontier:
        reeds = len(row.layout)
        (others if reeds in seen else easiest).append(row)
        seen.add(reeds)
    room = max(most - len(easiest), 0)
    # Spread over what is left, so that not all are near each other.
    step = max(-(-len(others) // room), 1) if room else 1
    chosen = {id(row) for row in (*easiest, *(others[::step] if room else ()))}
    shown = tuple(row for row in frontier if id(row) in chosen)
    return shown, len(frontier) - len(shown)


def search_report(result: SearchResult, player: str) -> dict[str, object]:
    """What `--json` prints; the shape is in docs/tuning-search.md."""
    wishes = result.wishes
    return {
        "player": player,
        "from": wishes.base.name,
        "reeds": wishes.reeds,
        "semitones": wishes.semitones,
        "keys": list(wishes.keys),
        "octaves": list(wishes.octaves),
        "valves": wishes.valves,
        "kept": [
            {"hole": reed.hole, "breath": reed.breath.value} for reed in sorted(wishes.frozen)
        ],
        "tunes": list(result.titles),
        "layouts": result.layouts,
        "exact": result.exact,
        "base": _score(result, Found((), result.base, (), ())),
        "best": [
            {
                "reeds": reeds,
                "exact": reeds <= result.exact,
                "least_effort": _rounded(result.bounds.get(reeds)),
                "most_plain": result.plain_bounds.get(reeds),
                "by_effort": [_found(result, row) for row in by_effort],
                "by_plain": [_found(result, row) for row in by_plain],
            }
            for reeds, (by_effort, by_plain) in enumerate(
                zip(result.best, result.plainest, strict=True), start=1
            )
        ],
        "frontier": [_found(result, row) for row in result.frontier],
    }


def _found(result: SearchResult, row: Found) -> dict[str, object]:
    tuning = layout_tuning(result.wishes.base, row.layout)
    return {
        "changes": _changes(result, row.layout),
        "blow": [spell(midi, _HOME) for midi in tuning.blow],
        "draw": [spell(midi, _HOME) for midi in tuning.draw],
        **_score(result, row),
        "won": list(row.won),
        "lost": list(row.lost),
    }


def _score(result: SearchResult, row: Found) -> dict[str, object]:
    score = row.score
    return {
        "plain": score.plain,
        "playable": score.playable,
        "effort": _rounded(score.effort),
        "effort_saved": _rounded(result.base.effort - score.effort),
        "relearned": _rounded(score.relearned),
    }


def _changes(result: SearchResult, layout: Layout) -> list[dict[str, object]]:
    base = result.wishes.base
    found: list[dict[str, object]] = []
    for (hole, breath), semitones in layout:
        before = getattr(base, breath.value)[hole - 1]
        found.append(
            {
                "hole": hole,
                "breath": breath.value,
                "semitones": semitones,
                "from": spell(before, _HOME),
                "to": spell(before + semitones, _HOME),
            }
        )
    return found


def _rounded(number: float | None) -> float | None:
    return None if number is None else round(number, _DECIMALS)
