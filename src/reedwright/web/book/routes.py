"""Books: the list of them, and one with its plan, a live preview of its pages, and making it.

Public: `router`.
"""

from __future__ import annotations

import base64
from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import FileResponse, HTMLResponse, RedirectResponse, Response
from pydantic import BaseModel
from starlette.exceptions import HTTPException

from reedwright.pack.cautions import CAUTIONS
from reedwright.player.loading import profile_files
from reedwright.shelf import changing
from reedwright.shelf.belongings.lessons import tunes_of
from reedwright.shelf.belongings.lists import lists_on
from reedwright.shelf.finding.model import Wanted
from reedwright.shelf.finding.searching import search
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import ChangedMeanwhile, Item, Kind, Role, ShelfError
from reedwright.web.book.asked import BookAsked, From, PreviewAsked, SavedBook, SiteAsked
from reedwright.web.book.kept import (
    KeptBook,
    book_on,
    books_on,
    keep_beside,
    keep_book,
    new_book,
    step_of_book,
)
from reedwright.web.book.making import (
    BookTask,
    book_file,
    make_the_book,
    make_the_site,
    site_zip,
)
from reedwright.web.book.previewing import engraved_more, shown
from reedwright.web.desk import AtDesk, Desk
from reedwright.web.jobs.told import JobReport, report
from reedwright.web.numbers import ItemId, ItemNumber
from reedwright.web.sending import sent
from reedwright.web.templating import page

router = APIRouter(tags=["book"])

KIND, KIND_OF_SITE = "book", "site"
MOST_FOUND = 40  # tunes offered at once
EVERY = 3000  # tunes: as many as a book may have
NOT_THERE: dict[int | str, dict[str, Any]] = {404: {"description": "It is not on the shelf."}}
ASKED: dict[int | str, dict[str, Any]] = NOT_THERE | {400: {"description": "It is no JSON."}}
CHANGED: dict[int | str, dict[str, Any]] = ASKED | {
    409: {"description": "It was changed elsewhere meanwhile."}
}
REFUSED: dict[int | str, dict[str, Any]] = ASKED | {
    429: {"description": "Too many jobs are at work or waiting."}
}


class Kept(BaseModel):
    """`state`: the number of the state that the book has now; `undo` and `redo`: whether there is
    one before it, and one to go forward to. `titles`: of its tunes by their numbers, those that are
    still on the shelf."""

    state: int
    name: str
    undo: bool
    redo: bool
    book: BookAsked
    titles: dict[int, str]


class Heading(BaseModel):
    page: int
    title: str


class Preview(BaseModel):
    """`picture`: a PNG as a data address. `words`: what the page shows. `places`: headings.
    `to_come`: tunes that are not engraved yet and could be in it."""

    picture: str
    width: int
    height: int
    page: int
    pages: int
    words: str
    places: list[Heading]
    notices: list[str]
    to_come: int


class ToCome(BaseModel):
    to_come: int


class Found(BaseModel):
    id: int
    title: str
    type: str
    key: str


class FoundTunes(BaseModel):
    tunes: list[Found]
    count: int


@router.get("/books", response_class=HTMLResponse)
def books(request: Request, desk: AtDesk) -> HTMLResponse:
    with desk.shelf() as shelf:
        found = [(item, len(shelf.links(item.id, Role.ON))) for item in books_on(shelf)]
        lists, tunes = _lists(shelf), shelf.counts().get(Kind.TUNE, 0)
    return page(
        request, "book/books.html", title="Books", here="books", books=found, lists=lists,
        tunes=tunes,
    )  # fmt: skip


@router.post("/books", response_class=RedirectResponse, status_code=303, responses=ASKED)
def begin(
    desk: AtDesk,
    title: Annotated[str, Form(max_length=300)],
    source: Annotated[str, Form(max_length=20, pattern=r"^(all|none|search|\d{1,15})$")] = "none",
    words: Annotated[str, Form(max_length=300)] = "",
) -> RedirectResponse:
    """A new book of all tunes, of those of a list or lesson, or of those that have these words."""
    called = " ".join(title.split())
    if not called:
        raise ShelfError("A book needs a title, such as 'Tunes for a Long Winter'.")
    with desk.shelf() as shelf:
        item = new_book(shelf, called, _tunes(shelf, source, words)[:EVERY])
    return RedirectResponse(f"/books/{item.id}", 303)


@router.get("/books/find", response_model=FoundTunes, responses=NOT_THERE)
def find(
    desk: AtDesk,
    words: Annotated[str, Query(max_length=300)] = "",
    source: Annotated[ItemNumber | None, Query()] = None,
) -> FoundTunes:
    """Tunes to put into a book: those that have the words, or those of a list or lesson."""
    with desk.shelf() as shelf:
        if source is not None:
            items = _tunes(shelf, str(source), "")
            tunes = [shelf.item(number) for number in items[:EVERY]]
            found = [Found(id=item.id, title=item.name, type="", key="") for item in tunes]
            return FoundTunes(tunes=found, count=len(items))
        answer = search(shelf, Wanted(words=words, limit=MOST_FOUND))
    return FoundTunes(
        tunes=[
            Found(id=hit.item, title=hit.title, type=hit.type, key=hit.key) for hit in answer.hits
        ],
        count=answer.count,
    )


@router.get("/books/{book}", response_class=HTMLResponse, responses=NOT_THERE)
def book_page(book: ItemId, request: Request, desk: AtDesk) -> HTMLResponse:
    with desk.shelf() as shelf:
        kept = book_on(shelf, book)
        lists = _lists(shelf)
        told = _told(shelf, kept)
    settings = desk.settings
    jobs = [*desk.jobs.all(KIND, f"/books/{book}"), *desk.jobs.all(KIND_OF_SITE, f"/books/{book}")]
    return page(
        request,
        "book/book.html",
        title=kept.asked.title,
        here="books",
        kept=kept,
        data=told.model_dump(),
        lists=lists,
        players_offered=[(name, name) for name in profile_files()],
        cautions=CAUTIONS,
        jobs=[job for job in jobs if not job.over] or jobs[:1],
        has_book=book_file(settings.made, kept.name).is_file(),
        has_site=site_zip(settings.made, kept.name).is_file(),
        local=settings.local,
        made=str(settings.made) if settings.local else "",
    )


@router.get("/books/{book}/kept", response_model=Kept, responses=NOT_THERE)
def kept_book(book: ItemId, desk: AtDesk) -> Kept:
    with desk.shelf() as shelf:
        return _kept(shelf, book)


@router.post("/books/{book}/plan", response_model=Kept, responses=CHANGED)
def save(book: ItemId, asked: SavedBook, desk: AtDesk) -> Kept:
    with desk.shelf() as shelf:
        try:
            keep_book(shelf, book, asked.book, asked.made_from, "changed on its page")
        except ChangedMeanwhile:
            if not asked.keep_both:
                raise
            keep_beside(shelf, book, asked.book)
        return _kept(shelf, book)


@router.post("/books/{book}/undo", response_model=Kept, responses=CHANGED)
def undo(book: ItemId, asked: From, desk: AtDesk) -> Kept:
    with desk.shelf() as shelf:
        step_of_book(shelf, book, asked.made_from, changing.undo)
        return _kept(shelf, book)


@router.post("/books/{book}/redo", response_model=Kept, responses=CHANGED)
def redo(book: ItemId, asked: From, desk: AtDesk) -> Kept:
    with desk.shelf() as shelf:
        step_of_book(shelf, book, asked.made_from, changing.redo)
        return _kept(shelf, book)


@router.post("/books/{book}/remove", response_model=Kept, responses=NOT_THERE)
def remove(book: ItemId, desk: AtDesk) -> Kept:
    """Take it off the shelf; it can be put back. What was made of it stays."""
    with desk.shelf() as shelf:
        found = _kept(shelf, book)
        shelf.remove(book)
        return found


@router.post("/books/{book}/put-back", response_model=Kept, responses=NOT_THERE)
def put_back(book: ItemId, desk: AtDesk) -> Kept:
    with desk.shelf() as shelf:
        found = _kept(shelf, book)
        shelf.put_back(book)
        return found


@router.get("/books/{book}/plan.toml", response_class=Response, responses=NOT_THERE)
def plan_file(book: ItemId, desk: AtDesk) -> Response:
    """The plan, as `reedwright book` takes it."""
    with desk.shelf() as shelf:
        kept = book_on(shelf, book)
    return sent(kept.item.state.text.encode(), f"{kept.name}.toml")


@router.post("/books/{book}/preview", response_model=Preview, responses=ASKED)
def preview(book: ItemId, asked: PreviewAsked, desk: AtDesk) -> Preview:
    """A page of the book as it would be printed, saved or not."""
    with desk.shelf() as shelf:
        book_on(shelf, book)
        drawn = shown(shelf, asked)
    where = f"Page {drawn.page} of {drawn.pages}"
    return Preview(
        picture="data:image/png;base64," + base64.b64encode(drawn.png).decode(),
        width=drawn.size[0],
        height=drawn.size[1],
        page=drawn.page,
        pages=drawn.pages,
        words=f"{where}: {drawn.here}" if drawn.here else where,
        places=[Heading(page=place.page, title=place.title) for place in drawn.places],
        notices=list(drawn.notices),
        to_come=drawn.to_come,
    )


@router.post("/books/{book}/engrave", response_model=ToCome, responses=ASKED)
def engrave(book: ItemId, asked: PreviewAsked, desk: AtDesk) -> ToCome:
    """Some more of the tunes that a preview has room for."""
    with desk.shelf() as shelf:
        book_on(shelf, book)
        return ToCome(to_come=engraved_more(shelf, asked.book))


@router.post("/books/{book}/make", response_model=JobReport, responses=REFUSED)
def make(book: ItemId, desk: AtDesk) -> dict[str, Any]:
    return _begun(desk, book, None)


@router.post("/books/{book}/site", response_model=JobReport, responses=REFUSED)
def make_site_of(book: ItemId, asked: SiteAsked, desk: AtDesk) -> dict[str, Any]:
    return _begun(desk, book, asked)


@router.get("/books/{book}/book.pdf", response_class=FileResponse, responses=NOT_THERE)
def made_book(book: ItemId, desk: AtDesk, look: bool = False) -> FileResponse:
    """The book as it was last made; `look`: to be seen in the browser."""
    with desk.shelf() as shelf:
        path = book_file(desk.settings.made, book_on(shelf, book).name)
    if not path.is_file():
        raise HTTPException(404)
    way = "inline" if look else "attachment"
    return FileResponse(path, filename=path.name, content_disposition_type=way)


@router.get("/books/{book}/web.zip", response_class=FileResponse, responses=NOT_THERE)
def made_site(book: ItemId, desk: AtDesk) -> FileResponse:
    with desk.shelf() as shelf:
        path = site_zip(desk.settings.made, book_on(shelf, book).name)
    if not path.is_file():
        raise HTTPException(404)
    return FileResponse(path, filename=path.name)


def _begun(desk: Desk, book: int, site: SiteAsked | None) -> dict[str, Any]:
    with desk.shelf() as shelf:
        kept = book_on(shelf, book)
    if not kept.titles:
        raise ShelfError("There are no tunes in the book yet. Add some.")
    settings = desk.settings
    task = BookTask(settings.shelf, settings.made, book, site)
    kind, work, what = (
        (KIND, make_the_book, "Book")
        if site is None
        else (KIND_OF_SITE, make_the_site, "Web folder")
    )
    job = desk.jobs.begin(kind, f"{what} {kept.asked.title}", f"/books/{book}", work, task)
    return report(job, settings.local)


def _kept(shelf: Shelf, book: int) -> Kept:
    return _told(shelf, book_on(shelf, book))


def _told(shelf: Shelf, kept: KeptBook) -> Kept:
    state = kept.item.state
    return Kept(
        state=state.number,
        name=kept.item.name,
        undo=state.parent > 0,
        redo=shelf.can_redo(kept.item.id),
        book=kept.asked,
        titles=kept.titles,
    )


def _lists(shelf: Shelf) -> list[Item]:
    """Lists and lessons that a book can be made of."""
    return [*lists_on(shelf), *shelf.items(Kind.LESSON)]


def _tunes(shelf: Shelf, source: str, words: str) -> list[int]:
    if source == "all":
        return [item.id for item in shelf.items(Kind.TUNE)]
    if source == "search":
        return [hit.item for hit in search(shelf, Wanted(words=words, limit=EVERY)).hits]
    if source == "none":
        return []
    item = shelf.item(int(source))
    if item.kind not in (Kind.LIST, Kind.LESSON):
        raise ShelfError(f"'{item.name}' is no list of tunes.")
    return [tune.id for tune in tunes_of(shelf, item.id)]
