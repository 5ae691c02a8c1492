"""Players' profiles on the shelf: their files as they are (docs/players.md).

Public: `keep_profile`, `profile_on`.
"""

from __future__ import annotations

from pathlib import Path

from reedwright.player.loading import profile_from_text
from reedwright.player.profile import Profile
from reedwright.shelf.belongings.texts import keep_text, text_of
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item, Kind


def keep_profile(shelf: Shelf, path: Path) -> Item:
    """Keep the profile in a file, or its new state where one of that name is kept already.

    Raises `ProfileError` for what is no profile, `ShelfError` where the file cannot be read.
    """
    text = text_of(path)
    profile = profile_from_text(path, text)
    return keep_text(shelf, Kind.PROFILE, profile.name, Form.TOML, text, f"from {path.name}")


def profile_on(shelf: Shelf, item: int) -> Profile:
    """The profile in its present state. Raises `NotOnShelf`, `ProfileError`."""
    kept = shelf.item(item)
    return profile_from_text(Path(f"{kept.name}.toml"), kept.state.text)
