"""What is in a finished book: as text for a terminal, and as plain data (docs/book.md).

Public: `book_text`, `book_report`, `harp_lists`.
"""

from __future__ import annotations

from collections.abc import Sequence

from reedwright.pack.book.chapters import by_harp
from reedwright.pack.book.made import MadeTune
from reedwright.pack.book.making import Book
from reedwright.pack.cautions import rights_not_stated
from reedwright.tab.words import counted, listed, moved_words

_NAMED_AT_MOST = 12  # tunes told of one by one in the text; the report has all


def harp_lists(tunes: Sequence[MadeTune]) -> list[tuple[str, tuple[MadeTune, ...]]]:
    """Each harp that is needed with its tunes in the book's order; low harps first."""
    named = {each.entry.name: each for each in tunes}
    return [
        (harp, tuple(named[entry.name] for entry in entries))
        for harp, entries in by_harp([each.entry for each in tunes])
    ]


def book_report(book: Book) -> dict[str, object]:
    """JSON-ready. `effort_per_note` as played; `anew` counts the tunes engraved this time."""
    content = book.content
    made = {each.entry.name: each for each in book.tunes}
    return {
        "title": content.title,
        "file": str(book.path),
        "pages": book.pages,
        "anew": book.anew,
        "chapters": [
            {"title": chapter.title, "tunes": [_tune(made[entry.name]) for entry in chapter.tunes]}
            for chapter in content.chapters
        ],
        "harps": [
            {"harp": harp, "tunes": [each.entry.name for each in tunes]}
            for harp, tunes in harp_lists(book.tunes)
        ],
        "rights_not_stated": [each.entry.name for each in book.tunes if not each.entry.rights],
        "missing_notes": [each.entry.name for each in book.tunes if each.missing],
        "left_out": [each._asdict() for each in book.left_out],
        "notices": list(book.notices),
    }


def _tune(made: MadeTune) -> dict[str, object]:
    entry = made.entry
    return {
        "name": entry.name,
        "title": entry.title,
        "type": entry.type,
        "key": entry.key,
        "harp": entry.harp,
        "position": entry.position,
        "octaves": made.octaves,
        "semitones": made.semitones,
        "grade": entry.grade,
        "effort_per_note": made.effort_per_note,
        "missing": list(made.missing),
        "rights": entry.rights or None,
        "address": entry.address or None,
        "notices": list(made.notices),
    }


def book_text(book: Book) -> str:
    """For the terminal: where it is, what is in it, which harps, and what to look at again."""
    content, tunes = book.content, book.tunes
    lines = [
        f"{content.title}: {counted(len(tunes), 'tune')} on {counted(book.pages, 'page')}.",
        f"{counted(book.anew, 'tune')} engraved now, {len(tunes) - book.anew} kept from before.",
        "",
    ]
    titled = [chapter for chapter in content.chapters if chapter.title]
    width = max((len(chapter.title) for chapter in titled), default=0)
    lines += [f"  {each.title:{width}}  {counted(len(each.tunes), 'tune')}" for each in titled]
    lines += [""] * bool(titled)
    harps = harp_lists(tunes)
    width = max((len(harp) for harp, _ in harps), default=0)
    lines.append(f"{counted(len(harps), 'harp')} needed:")
    lines += [f"  {harp:{width}}  {counted(len(mine), 'tune')}" for harp, mine in harps]
    lines += _to_look_at(book)
    lines += ["", f"Open {book.path}"]
    return "\n".join(lines)


def _to_look_at(book: Book) -> list[str]:
    """Notes that are missing, notices, rights, tunes left out."""
    lines = _told(
        "Notes that the harp has not",
        [
            f"{each.entry.title}: {listed(list(dict.fromkeys(each.missing)))} on the "
            f"{each.entry.harp}"
            for each in book.tunes
            if each.missing
        ],
    )
    lines += _told(
        "Moved to lie better",
        [
            f"{each.entry.title}: {moved_words(each.octaves, each.semitones)}"
            for each in book.tunes
            if each.octaves or each.semitones
        ],
    )
    notices = [f"{each.entry.title}: {notice}" for each in book.tunes for notice in each.notices]
    lines += _told("To know", [*book.notices, *notices])
    lines += _told("Left out", [f"{each.title}: {each.reason}" for each in book.left_out])
    unstated = [each.entry.title for each in book.tunes if not each.entry.rights]
    return [*lines, "", rights_not_stated(unstated)] if unstated else lines


def _told(heading: str, lines: Sequence[str]) -> list[str]:
    if not lines:
        return []
    more = len(lines) - _NAMED_AT_MOST
    shown = lines if more <= 1 else lines[:_NAMED_AT_MOST]
    found = ["", f"{heading}:", *(f"  {line}" for line in shown)]
    return [*found, f"  and {len(lines) - len(shown)} more"] if len(shown) < len(lines) else found
