"""A tune that could not be read: what stands in its place in the stream of tunes."""

from __future__ import annotations

from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.tune.model import Place


class UnreadableTune(ReedwrightError):
    """The source of a tune has no sensible reading. `place` says where."""

    def __init__(self, message: str, place: Place) -> None:
        super().__init__(message)
        self.place = place


class Refused(NamedTuple):
    """One tune of a tunebook that has no sensible reading; the others are read all the same.

    `number` is the text of `X:` and `title` the first `T:` as far as they are known.
    """

    number: str
    title: str
    error: UnreadableTune
