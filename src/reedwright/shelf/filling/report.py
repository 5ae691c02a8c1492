"""What became of an import: as a value, for a terminal, as plain values, and in full in a file.

Public: `ImportReport`, `report_text`, `report_json`, `write_report`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from reedwright.files import write_whole
from reedwright.shelf.filling.told import Told

SHOWN = 5
"""Of each kind, on a terminal; the rest is counted."""


@dataclass(frozen=True, slots=True)
class ImportReport:
    """What became of every tune.

    `added`: numbers of the new items. `same` counts tunes that were there already with the same
    text, `removed_before` those of them that were taken off the shelf. `changed` stand otherwise in
    their file now, and were left as they are; `updated` got a new state for that; `both_changed`
    were changed on the shelf, too, and were left. `repaired` could be read in one sensible way,
    which is told; `remarks` are of tunes in which nothing needed to be. `refused` were not taken
    in.
    `other_words` counts new tunes that have the notes of another, ornaments aside. `settings`: how
    many pairs of likely settings of one tune were found; None where nobody looked. `graded` counts
    tunes whose grade was worked out for `player`: none where too many came in to do it at once.
    """

    added: tuple[int, ...] = ()
    same: int = 0
    removed_before: int = 0
    changed: tuple[Told, ...] = ()
    updated: tuple[Told, ...] = ()
    both_changed: tuple[Told, ...] = ()
    repaired: tuple[Told, ...] = ()
    remarks: tuple[Told, ...] = ()
    refused: tuple[Told, ...] = ()
    files: int = 0
    other_words: int = 0
    settings: int | None = None
    graded: int = 0
    player: str = ""
    seconds: float = 0.0


def report_text(report: ImportReport, shown: int = SHOWN) -> str:
    """For a terminal; at most `shown` of each kind."""
    lines = [f"{_tunes(len(report.added))} taken in from {_counted(report.files, 'file')}."]
    if not (report.files or report.added or report.refused or report.repaired or report.changed):
        lines = ["There are no files of ABC, MusicXML or MIDI there, and no zips of them."]
    here = report.same - report.removed_before
    if here:
        lines.append(f"{_tunes(here)} on the shelf already, with the same text.")
    if report.removed_before:
        lines.append(
            f"{_tunes(report.removed_before)} taken off the shelf before, and left off. "
            "Put one back to have it again."
        )
    lines += _listed(
        report.updated, shown, "got a new state, as their files had changed; undo brings back"
    )
    lines += _listed(
        report.changed,
        shown,
        "stand otherwise in their files now, and were left as they are; import with --update "
        "to take that over",
    )
    lines += _listed(
        report.both_changed,
        shown,
        "changed both on the shelf and in the file; what the shelf has was kept",
    )
    lines += _by_kind(report.repaired, shown, "had something odd that was repaired")
    lines += _by_kind(report.remarks, shown, "gave reason for a remark")
    lines += _listed(
        report.refused, shown, "could not be taken in", "tune or file", "tunes or files"
    )
    if report.other_words:
        lines.append(
            f"{_counted(report.other_words, 'tune')} {_have(report.other_words)} the very notes of "
            "another, under other words or with other ornaments."
        )
    if report.settings:
        lines.append(
            f"{_counted(report.settings, 'pair')} of tunes that seem to be settings of one tune; "
            "see `reedwright shelf settings`. Nothing was merged."
        )
    if report.added and not report.graded:
        lines.append("How hard they are is not worked out yet: `reedwright shelf grade` does it.")
    return "\n".join(lines) + "\n"


def report_json(report: ImportReport) -> dict[str, object]:
    """All of it as plain values (docs/filling.md)."""
    return {
        "added": list(report.added),
        "same": report.same,
        "removed_before": report.removed_before,
        "changed": [_told(each) for each in report.changed],
        "updated": [_told(each) for each in report.updated],
        "both_changed": [_told(each) for each in report.both_changed],
        "repaired": [_told(each) for each in report.repaired],
        "remarks": [_told(each) for each in report.remarks],
        "refused": [_told(each) for each in report.refused],
        "files": report.files,
        "other_words": report.other_words,
        "settings": report.settings,
        "graded": report.graded,
        "player": report.player or None,
        "seconds": round(report.seconds, 1),
    }


def write_report(report: ImportReport, path: Path) -> None:
    """Everything, as text. Raises `NotWritten`."""
    told = (report.changed, report.updated, report.both_changed, report.repaired, report.remarks)
    text = report_text(report, max(len(kind) for kind in (*told, report.refused)))
    for what, odd in (("Repaired", report.repaired), ("Remarks", report.remarks)):
        if odd:
            text += f"\n{what}\n\n" + "\n".join(str(each) for each in odd) + "\n"
    write_whole(path, text.encode("utf-8"))


def _listed(
    told: Sequence[Told], shown: int, how: str, what: str = "tune", several: str = "tunes"
) -> list[str]:
    """How many, and the first of them."""
    if not told:
        return []
    lines = [f"{len(told):,} {what if len(told) == 1 else several} {how}:"]
    for each in told[:shown]:
        lines += [f"  {line}" for line in str(each).splitlines()]
    if len(told) > shown:
        lines.append(f"  and {len(told) - shown:,} more.")
    return lines


def _by_kind(told: Sequence[Told], shown: int, how: str) -> list[str]:
    """How many tunes, and what was told most often, each with the first place of it."""
    if not told:
        return []
    kinds: dict[str, dict[tuple[str, str, str], Told]] = {}
    for each in told:
        tune = (each.file, each.number, each.title)
        kinds.setdefault(_kind(each.message), {}).setdefault(tune, each)
    tunes = {tune for kind in kinds.values() for tune in kind}
    lines = [f"{_counted(len(tunes), 'tune')} {how}:"]
    often = sorted(kinds.values(), key=lambda kind: -len(kind))
    for kind in often[:shown]:
        first = next(iter(kind.values()))
        lines.append(f"  {_counted(len(kind), 'tune')}: {_BAR.sub('', first.message)}")
        lines.append(f"      {'in' if len(kind) == 1 else 'first in'} {first.where}")
    if len(often) > shown:
        lines.append(f"  and {_counted(len(often) - shown, 'other kind')} of it.")
    return lines


_BAR = re.compile(r"^bar \d+: ")
_PARTICULAR = re.compile(r"'[^']*'|\d+")


def _kind(message: str) -> str:
    """A message without what is particular to one tune."""
    return _PARTICULAR.sub("#", _BAR.sub("", message))


def _tunes(count: int) -> str:
    return f"{_counted(count, 'tune')} {'was' if count == 1 else 'were'}"


def _have(count: int) -> str:
    return "has" if count == 1 else "have"


def _counted(count: int, what: str) -> str:
    return f"{count:,} {what}" if count == 1 else f"{count:,} {what}s"


def _told(told: Told) -> dict[str, object]:
    return {
        "file": told.file,
        "line": told.line or None,
        "column": told.column or None,
        "number": told.number,
        "title": told.title,
        "message": told.message,
    }
