"""What may be chosen about the sound of a tune."""

from __future__ import annotations

from dataclasses import dataclass

from reedwright.sound.lilt import Lilt
from reedwright.sound.timing import CutPlace


@dataclass(frozen=True, slots=True)
class SoundSettings:
    """`tempo` in quarter notes a minute (None: the tune's or its type's); the rest as in `plan`.

    `artist`, `album` and `genre` are for the tags; an empty album is the tune's title.
    """

    tempo: float | None = None
    lilt: Lilt | bool = True
    count_in: bool = True
    cuts: CutPlace = CutPlace.ON_BEAT
    artist: str = "Reedwright reed voice"
    album: str = ""
    genre: str = "Folk"


USUAL = SoundSettings()
