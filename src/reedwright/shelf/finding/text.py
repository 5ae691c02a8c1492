"""What was found, as text for a terminal and as values for JSON.

Public: `answer_text`, `answer_report`.
"""

from __future__ import annotations

from reedwright.shelf.finding.model import Answer, Hit

LONGEST_TITLE = 44  # letters; longer ones are cut, so that columns stay columns


def answer_text(answer: Answer) -> str:
    """A line for each tune: its number on the shelf, title, type, key, metre, grade, harps."""
    lines = [f"'{typed}' is taken for {meant}." for typed, meant in answer.guessed.items()]
    if not answer.hits:
        found = (
            "Nothing is found." if not answer.count else f"{answer.count} found; no more to show."
        )
        return "\n".join([*lines, found])
    rows = [_row(hit) for hit in answer.hits]
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    for row, hit in zip(rows, answer.hits, strict=True):
        cells = [row[0].rjust(widths[0])]
        cells += [
            cell.ljust(width) for cell, width in zip(row[1:], widths[1:], strict=True) if width
        ]
        lines.append("  ".join(cells).rstrip())
        if hit.difference is not None and hit.bars is not None:
            lines.append(" " * (widths[0] + 2) + _where(hit))
    lines.append(_count(answer))
    return "\n".join(lines)


def answer_report(answer: Answer) -> dict[str, object]:
    """The same for programs. What was not asked for is null."""
    return {
        "count": answer.count,
        "guessed": dict(answer.guessed),
        "tunes": [_report(hit) for hit in answer.hits],
    }


def _row(hit: Hit) -> tuple[str, ...]:
    title = hit.title
    if len(title) > LONGEST_TITLE:
        title = title[: LONGEST_TITLE - 1].rstrip() + "…"
    return (
        str(hit.item),
        title,
        "" if hit.score is None else f"{hit.score:.0%}",
        hit.type,
        hit.key,
        "" if hit.metre == "none" else hit.metre,
        "" if hit.grade is None else f"grade {hit.grade:.1f}",
        ", ".join(hit.plain_on),
    )


def _where(hit: Hit) -> str:
    assert hit.bars is not None and hit.difference is not None
    first, last = hit.bars
    told = f"bar {first}" if first == last else f"bars {first} to {last}"
    parts = [
        f"{count} {word}"
        for count, word in zip(hit.difference, hit.difference._fields, strict=True)
        if count
    ]
    return f"{told}; " + (", ".join(parts) if parts else "all fits")


def _count(answer: Answer) -> str:
    shown = len(answer.hits)
    if shown == answer.count:
        return f"{shown} tune{'s' if shown > 1 else ''}"
    return f"{shown} of {answer.count} tunes"


def _report(hit: Hit) -> dict[str, object]:
    return {
        "number": hit.item,
        "title": hit.title,
        "type": hit.type,
        "key": hit.key,
        "metre": hit.metre,
        "composer": hit.composer,
        "grade": hit.grade,
        "score": None if hit.score is None else round(hit.score, 3),
        "differences": None if hit.difference is None else hit.difference._asdict(),
        "bars": None if hit.bars is None else list(hit.bars),
        "plain_on": list(hit.plain_on),
    }
