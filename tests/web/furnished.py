"""A shelf with something of everything on it, for tests that look at every page."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from recordings import wav_of
from webhouse import House

from reedwright.shelf.belongings.files import keep_take
from reedwright.shelf.belongings.harps import keep_harp
from reedwright.shelf.belongings.lists import keep_list
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.web.book.kept import new_book

FERRY = """X:2
T:The Ferry at Low Water
R:jig
M:6/8
L:1/8
K:D
|:dAF DFA|BGB AFD|dAF DFA|B2d cBA|dAF DFA|BGB AFD|gfe dcB|Adc d3:|
|:fdf fga|gfe dcB|fdf fga|bag a3|fdf fga|gfe dcB|gfe dcB|Adc d3:|
"""


@dataclass
class Furnished:
    """`values`: for a word in curly brackets of a route's path, by the path's beginning."""

    values: dict[tuple[str, str], str] = field(default_factory=dict)

    def value_for(self, path: str, word: str) -> str:
        fitting = [key for key in self.values if path.startswith(key[0]) and key[1] in (word, "")]
        return self.values[max(fitting, key=lambda key: (len(key[0]), key[1]))] if fitting else "1"


def furnished(house: House) -> Furnished:
    """Put a tune and a take of it, another one, a set, a harp and a book on the shelf."""
    tune = house.shelve()
    other = house.shelve(FERRY)
    with open_shelf(house.settings.shelf) as shelf:
        kept = keep_list(shelf, "Saturday's first set", [tune, other])
        harp = keep_harp(shelf, "the red one", "G:richter-raised-3-blow")
        book = new_book(shelf, "Tunes for a Long Winter", [tune.id, other.id])
        with tempfile.TemporaryDirectory() as folder:
            recording = Path(folder) / "kitchen.wav"
            recording.write_bytes(wav_of(np.zeros(8_000, dtype=np.float32), 8_000))
            take = keep_take(shelf, tune.id, recording, "Ada")
    return Furnished(
        {
            ("/tunes/", ""): str(tune.id),
            ("/shelf/", ""): str(tune.id),
            ("/sets/", ""): str(kept.id),
            ("/bench/", ""): str(harp.id),
            ("/harps/", ""): str(harp.id),
            ("/books/", ""): str(book.id),
            ("/tunes/", "take"): str(take.id),
        }
    )
