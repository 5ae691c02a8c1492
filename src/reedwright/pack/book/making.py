"""The whole book made: every tune on all cores, what has not changed taken from the stock.

Public: `make_book`, `made_all`, `content_of`, `Book`, `LeftOut`, `NoTunes`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.files import write_whole
from reedwright.pack.book.chapters import chaptered, ordered
from reedwright.pack.book.credits import book_cautions, book_credits
from reedwright.pack.book.crew import Failed, worked_out
from reedwright.pack.book.fewest import on_fewest_harps
from reedwright.pack.book.fingerprint import key_of
from reedwright.pack.book.hearing import heard
from reedwright.pack.book.made import MadeTune, made_tune, packed, unpacked
from reedwright.pack.book.model import BookPlan, PlannedTune
from reedwright.pack.book.stock import Stock, stock_folder
from reedwright.page.book.model import BookContent, BookLook, Chapter, TuneEntry
from reedwright.processes import cores

Report = Callable[[float, str], None]  # the share done, and what is being done

MOST_WORKERS = 8  # processes, of some 200 MB each
# Of the work, where every tune is made anew: trying all harps, and engraving.
SHARE_OF_FEWEST, SHARE_OF_TUNES = 0.2, 0.85


class NoTunes(ReedwrightError):
    """A book of which no tune could be made."""


class LeftOut(NamedTuple):
    """A tune of the plan that is not in the book, and why."""

    title: str
    reason: str


@dataclass(frozen=True, slots=True)
class Book:
    """A finished book. `tunes` in the order of its chapters; `anew`: how many were engraved now,
    and not taken from the stock. `pages` includes covers. `notices`: of the book as a whole."""

    path: Path
    content: BookContent
    tunes: tuple[MadeTune, ...]
    left_out: tuple[LeftOut, ...]
    anew: int
    pages: int
    notices: tuple[str, ...] = ()


def make_book(
    plan: BookPlan,
    out: Path,
    progress: Report = lambda share, doing: None,
    keep: Path | None = None,
    workers: int | None = None,
) -> Book:
    """Write the book to `out`, whole or not at all.

    `keep`: the folder in which engraved tunes are kept for the next time, None for the usual one
    (`stock.stock_folder`). `workers`: processes, None for one a core, 0 for none besides this one.
    The same plan gives the same bytes, whatever the stock holds. A tune that cannot be made is left
    out and told in the book's `left_out`.

    Raises `NoTunes` where none is left, `NotTypeset`, `NotWritten`.
    """
    from reedwright.page.book.printing import book_pdf
    from reedwright.page.press import page_count

    stock = Stock(keep or stock_folder())
    if workers is None:
        workers = min(cores(), MOST_WORKERS)
    plan, notices = on_fewest_harps(
        plan, stock, workers, lambda share, doing: progress(SHARE_OF_FEWEST * share, doing)
    )
    made, left_out, anew = made_all(plan, stock, progress, workers)
    if not made:
        raise NoTunes(_no_tunes(left_out))
    content = content_of(plan, made)
    begun = SHARE_OF_TUNES if anew else 0.3
    progress(begun, "typesetting")
    pdf = heard(
        lambda: book_pdf(
            content, plan.look, lambda share, doing: progress(begun + (1 - begun) * share, doing)
        )
    )
    write_whole(out, pdf)
    by_name = {each.entry.name: each for each in made.values()}
    tunes = tuple(by_name[entry.name] for entry in content.tunes)
    return Book(out, content, tunes, left_out, anew, page_count(pdf), notices)


def content_of(plan: BookPlan, made: dict[str, MadeTune]) -> BookContent:
    """What the book says, of the tunes that were made, by their names. Empty chapters go."""
    entries = {name: each.entry for name, each in made.items()}
    if plan.by == "own":
        chapters = [
            (chapter.title, _entries(chapter.tunes, entries), chapter.words)
            for chapter in plan.chapters
        ]
    else:
        grouped = chaptered(_entries(plan.tunes, entries), plan.by)
        chapters = [(title, tunes, "") for title, tunes in grouped]
    return BookContent(
        title=plan.title,
        chapters=tuple(
            Chapter(title, ordered(tunes, plan.order), words)
            for title, tunes, words in chapters
            if tunes
        ),
        subtitle=plan.subtitle,
        maker=plan.maker,
        preface=plan.preface,
        imprint=plan.imprint,
        rights=plan.rights,
        credits=(*plan.credits, *book_credits()),
        cautions=book_cautions(list(entries.values())),
    )


def _entries(tunes: Sequence[PlannedTune], entries: dict[str, TuneEntry]) -> tuple[TuneEntry, ...]:
    return tuple(entries[tune.name] for tune in tunes if tune.name in entries)


def made_all(
    plan: BookPlan, stock: Stock, progress: Report, workers: int
) -> tuple[dict[str, MadeTune], tuple[LeftOut, ...], int]:
    """Every tune by name in the plan's order, those left out, and how many were made anew."""
    # Neither bleed nor what is left and right changes how a tune is engraved.
    look = replace(plan.look, bleed=0.0, crop_marks=False, two_sided=True)
    keys = {planned.name: key_of(planned, look) for planned in plan.tunes}
    found: dict[str, MadeTune] = {}
    for name, key in keys.items():
        kept = stock.get(key)
        made = None if kept is None else unpacked(kept)
        if made is not None:
            found[name] = made
        elif kept is not None:
            stock.drop(key)
    wanted = [planned for planned in plan.tunes if planned.name not in found]
    reasons: dict[str, str] = {}
    tasks = [(planned, look) for planned in wanted]
    for done, (place, result) in enumerate(worked_out(_work, tasks, workers), start=1):
        planned = wanted[place]
        if isinstance(result, Failed):
            reasons[planned.name] = _reason(result)
        else:
            stock.put(keys[planned.name], result)
            again = unpacked(result)
            assert again is not None
            found[planned.name] = again
        progress(SHARE_OF_TUNES * done / len(wanted), f"engraving, {done} of {len(wanted)}")
    if wanted:
        stock.tidy(keys.values())
    made_in_order = {each.name: found[each.name] for each in plan.tunes if each.name in found}
    left_out = tuple(
        LeftOut(each.tune.title, reasons[each.name]) for each in wanted if each.name in reasons
    )
    return made_in_order, left_out, len(wanted) - len(left_out)


def _work(task: tuple[PlannedTune, BookLook]) -> bytes:
    return packed(made_tune(*task))


def _reason(failed: Failed) -> str:
    if failed.fault:
        return f"{failed.message}. This is a fault of the program; please report it with the tune."
    return failed.message


def _no_tunes(left_out: Sequence[LeftOut]) -> str:
    if not left_out:
        return "The plan has no tunes: name some, or files that hold them."
    first = left_out[0]
    return f"None of the {len(left_out)} tunes can be made. {first.title}: {first.reason}"
