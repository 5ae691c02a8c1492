"""Books on the shelf: a list whose text is the book's plan, marked as such.

Every change is a state, so that each can be undone. `about` holds the marks: that it is a book,
and the name of its files, which stays when the title changes.

Public: `KeptBook`, `new_book`, `books_on`, `book_on`, `keep_book`, `step_of_book`,
`copy_name`, `owned_texts`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from reedwright.folders.names import unused_file_name
from reedwright.harp.written import harp_text
from reedwright.shelf.belongings.harps import harps_on
from reedwright.shelf.belongings.lists import BOOK, WHAT, books_of, is_book
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import ChangedMeanwhile, Form, Item, Kind, NotOnShelf, Role, ShelfError
from reedwright.web.book.asked import BookAsked, ChapterPart, TunePart
from reedwright.web.book.planfile import plan_text, read_back

FILE = "file"


@dataclass(frozen=True, slots=True)
class KeptBook:
    """`name`: of its files. `titles`: of its tunes by their numbers; those that are no longer on
    the shelf are left out, and are in the book's parts all the same."""

    item: Item
    asked: BookAsked
    titles: dict[int, str]

    @property
    def name(self) -> str:
        return str(self.item.state.about.get(FILE, "book"))


def owned_texts(shelf: Shelf) -> tuple[str, ...]:
    """The harps on the shelf, as texts, each once."""
    return tuple(dict.fromkeys(harp_text(harp) for _, harp in harps_on(shelf)))


def new_book(shelf: Shelf, title: str, tunes: Sequence[int]) -> Item:
    """A book of these tunes with the usual settings. Raises `NotOnShelf`."""
    with shelf.change():
        called = copy_name(title, {item.name for item in shelf.items(Kind.LIST)})
        parts: list[TunePart | ChapterPart] = [
            TunePart(kind="tune", tune=tune) for tune in dict.fromkeys(tunes)
        ]
        asked = BookAsked(title=title, parts=parts)
        every = (*books_of(shelf), *books_of(shelf, removed=True))
        used = {str(item.state.about.get(FILE, "")) for item in every}
        item = shelf.add(
            Kind.LIST,
            called,
            Form.TOML,
            plan_text(asked, owned_texts(shelf)),
            said="begun",
            about={WHAT: BOOK, FILE: unused_file_name(title, "", used)},
        )
        shelf.link(item.id, Role.ON, [part.tune for part in asked.tunes])
    return shelf.item(item.id)


def copy_name(title: str, used: set[str]) -> str:
    """The title, or with a number where something is called so: lists go by their names."""
    called = " ".join(title.split())
    names = (called if nth == 1 else f"{called} ({nth})" for nth in range(1, len(used) + 2))
    return next(name for name in names if name not in used)


def books_on(shelf: Shelf) -> tuple[Item, ...]:
    """The last changed first."""
    return tuple(sorted(books_of(shelf), key=lambda item: item.state.at, reverse=True))


def book_on(shelf: Shelf, number: int) -> KeptBook:
    """Raises `NotOnShelf`, `PlanError` for a plan that can't be read."""
    with shelf.reading():
        item = shelf.item(number)
        if not is_book(item):
            raise NotOnShelf(f"There is no book with the number {number} on the shelf.")
        asked = read_back(item.state.text, owned_texts(shelf))
        return KeptBook(item, asked, titles_of(shelf, [part.tune for part in asked.tunes]))


def titles_of(shelf: Shelf, tunes: Sequence[int]) -> dict[int, str]:
    """Of those that are tunes on the shelf."""
    names = shelf.names(Kind.TUNE)
    return {tune: names[tune] for tune in tunes if tune in names}


def keep_book(shelf: Shelf, number: int, asked: BookAsked, made_from: int, said: str) -> Item:
    """Its next state. Raises `ChangedMeanwhile`, `NotOnShelf`, `ShelfError` for a book that was
    taken off the shelf, and what a harp's text may be refused for."""
    before = book_on(shelf, number)
    if before.item.removed:
        raise ShelfError(f"{before.item.name} is off the shelf. Put it back to change it.")
    text = plan_text(asked, owned_texts(shelf))
    if text == before.item.state.text:
        return before.item
    with shelf.change():
        others = {item.name for item in shelf.items(Kind.LIST) if item.id != number}
        kept = shelf.revise(
            number, text, said=said, name=copy_name(asked.title, others), made_from=made_from
        )
        there = titles_of(shelf, [part.tune for part in asked.tunes])
        tunes = dict.fromkeys(part.tune for part in asked.tunes if part.tune in there)
        shelf.link(kept.id, Role.ON, list(tunes))
    return shelf.item(number)


def keep_beside(shelf: Shelf, number: int, asked: BookAsked) -> Item:
    """What was not taken is a state of its own all the same, to be gone back to; the present state
    stays. Raises as `keep_book`."""
    with shelf.change():
        now = book_on(shelf, number).item.state.number
        keep_book(shelf, number, asked, now, "from another page, not taken")
        return shelf.go_to(number, now)


def step_of_book(
    shelf: Shelf, number: int, made_from: int, step: Callable[[Shelf, int], Item]
) -> None:
    """Undo or redo from the state that a page has. Raises as `keep_book` does, and `ShelfError`
    where there is nothing to undo or redo."""
    with shelf.change():
        item = book_on(shelf, number).item
        if item.state.number != made_from:
            raise ChangedMeanwhile(f"{item.name} was changed meanwhile. Look at what it says now.")
        step(shelf, number)
