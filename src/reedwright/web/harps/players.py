"""The players that harps can be ranked for: those with a file, and those kept on the shelf.

Public: `PlayerChoice`, `player_choices`, `player_of`, `ON_SHELF`.
"""

from __future__ import annotations

from dataclasses import dataclass

from reedwright.errors import ReedwrightError
from reedwright.player.checking import ProfileError
from reedwright.player.loading import profile_files, read_profile
from reedwright.player.profile import Profile
from reedwright.shelf.belongings.profiles import profile_on
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Kind, NotOnShelf

ON_SHELF = "shelf-"
"""What the key of a player on the shelf begins with; its number follows."""


@dataclass(frozen=True, slots=True)
class PlayerChoice:
    """`key`: as addresses have it. `item`: its number where it is kept on the shelf, else 0: a
    tune's choices can name those with a file alone."""

    key: str
    profile: Profile
    item: int = 0

    @property
    def words(self) -> str:
        return f"{self.profile.title} (on the shelf)" if self.item else self.profile.title


def player_choices(shelf: Shelf) -> tuple[PlayerChoice, ...]:
    """All of them; what can't be read is left out (the page of players tells of it)."""
    found = []
    for name, path in profile_files().items():
        try:
            found.append(PlayerChoice(name, read_profile(path)))
        except ReedwrightError:
            continue
    for item in shelf.items(Kind.PROFILE):
        try:
            found.append(PlayerChoice(f"{ON_SHELF}{item.id}", profile_on(shelf, item.id), item.id))
        except ReedwrightError:
            continue
    return tuple(found)


def player_of(choices: tuple[PlayerChoice, ...], key: str) -> PlayerChoice:
    """Raises `ProfileError` where there is none of that key, `NotOnShelf` for one of the shelf."""
    for each in choices:
        if each.key == key:
            return each
    if key.startswith(ON_SHELF):
        raise NotOnShelf("That player is not on the shelf any more; choose another.")
    raise ProfileError(f"There is no player '{key}' any more; choose another.")
