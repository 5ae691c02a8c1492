"""The jobs that make a book and its web folder.

Public: `BookTask`, `make_the_book`, `make_the_site`, `book_file`, `site_zip`.
"""

from __future__ import annotations

import json
import zipfile
from dataclasses import dataclass
from pathlib import Path

from reedwright.files import not_written, whole_file
from reedwright.folders.manifest import MANIFEST_NAME
from reedwright.folders.zipping import ALREADY_PACKED, OLDEST_DATE
from reedwright.pack.book.making import make_book
from reedwright.pack.book.report import book_report
from reedwright.pack.cautions import rights_not_stated
from reedwright.pack.site.making import make_site
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.web.book.asked import SiteAsked
from reedwright.web.book.kept import book_on
from reedwright.web.book.planning import planned
from reedwright.web.jobs.model import Outcome, Progress

FOLDER = "books"  # in the folder of what is made
SHARE_MADE = 0.97  # of a web folder's work; the rest is its zip


@dataclass(frozen=True, slots=True)
class BookTask:
    """`shelf`, `made`: folders. `book`: its number on the shelf. `site`: for its web folder."""

    shelf: Path
    made: Path
    book: int
    site: SiteAsked | None = None


def book_file(made: Path, name: str) -> Path:
    return made / FOLDER / f"{name}.pdf"


def site_zip(made: Path, name: str) -> Path:
    return made / FOLDER / f"{name}-web.zip"


def make_the_book(task: BookTask, progress: Progress) -> Outcome:
    """A `Work`. Raises what `make_book` raises."""
    progress(0.0, "reading the tunes")
    with open_shelf(task.shelf) as shelf:
        kept = book_on(shelf, task.book)
        plan, notices = planned(shelf, kept.asked)
    out = book_file(task.made, kept.name)
    _make_folder(out.parent)
    book = make_book(plan, out, progress)
    report = book_report(book)
    report.pop("file")
    unstated = [each.entry.title for each in book.tunes if not each.entry.rights]
    told = [rights_not_stated(unstated)] if unstated else []
    return Outcome(
        facts=report,
        files={out.name: out},
        folder=out.parent,
        notices=(*notices, *book.notices, *told),
        go=f"/books/{task.book}",
    )


def make_the_site(task: BookTask, progress: Progress) -> Outcome:
    """A `Work`. Raises what `make_site` raises."""
    progress(0.0, "reading the tunes")
    with open_shelf(task.shelf) as shelf:
        kept = book_on(shelf, task.book)
        plan, notices = planned(shelf, kept.asked)
    to = site_zip(task.made, kept.name).with_suffix("")
    _make_folder(to.parent)
    chosen = (task.site or SiteAsked()).settings()
    site = make_site(plan, to, chosen, lambda share, doing: progress(SHARE_MADE * share, doing))
    progress(SHARE_MADE, "packing the folder")
    zip_file = site_zip(task.made, kept.name)
    _zip(to, zip_file)
    left_out = [{"title": title, "reason": reason} for title, reason in site.left_out]
    return Outcome(
        facts={"tunes": site.pages, "bytes": site.bytes, "left_out": left_out},
        files={zip_file.name: zip_file},
        folder=to,
        notices=tuple(notices),
        go=f"/books/{task.book}",
    )


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise not_written(folder, error) from error


def _zip(folder: Path, target: Path) -> None:
    """What was made, and not what its owner put into the folder besides; the same bytes for the
    same files."""
    listed = json.loads((folder / MANIFEST_NAME).read_bytes())["files"]
    names = sorted({MANIFEST_NAME, *(str(each["name"]) for each in listed)})
    with whole_file(target) as temporary, zipfile.ZipFile(temporary, "w") as archive:
        for name in names:
            entry = zipfile.ZipInfo(f"{folder.name}/{name}", OLDEST_DATE)
            stored = Path(name).suffix in ALREADY_PACKED
            entry.compress_type = zipfile.ZIP_STORED if stored else zipfile.ZIP_DEFLATED
            archive.writestr(entry, (folder / name).read_bytes())
