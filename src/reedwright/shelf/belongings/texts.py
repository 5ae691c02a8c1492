"""What the things that are kept as texts share: read from a file, kept by name, kept but once.

Public: `text_of`, `keep_text`.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item, Kind, ShelfError


def text_of(path: Path) -> str:
    """The text of a file in UTF-8. Raises `ShelfError`."""
    try:
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise ShelfError(f"{path}: there is no such file.") from None
    except UnicodeDecodeError as error:
        raise ShelfError(
            f"{path}: not UTF-8 at byte {error.start}; save the file as UTF-8."
        ) from None
    except OSError as error:
        raise ShelfError(f"{path}: cannot be read ({error.strerror or error}).") from None


def keep_text(
    shelf: Shelf,
    kind: Kind,
    name: str,
    form: Form,
    text: str,
    said: str = "",
    about: Mapping[str, str | int] | None = None,
) -> Item:
    """The item of that kind and name with this text: a new one, or a new state where it differs."""
    with shelf.change():
        for item in shelf.items(kind):
            if item.name == name:
                if item.state.text == text:
                    return item
                return shelf.revise(item.id, text, said=said, about=about)
        return shelf.add(kind, name, form, text, said=said, about=about)
