"""What comes over the reed meter's line: frames of text and of sound, checked.

Public: `Begin`, `Keep`, `Said`, `NotTaken`, `said_in`, `sound_in`, and the close codes.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from reedwright.web.bench.asking import Lines
from reedwright.web.bench.meter import Aimed
from reedwright.web.numbers import ItemNumber
from reedwright.workshop.measuring.listening import LEAST_RATE
from reedwright.workshop.measuring.partials import Array32

HIGHEST_RATE = 192_000  # samples a second
MOST_BYTES = 65_536  # of a frame of sound: a third of a second at 48,000
MOST_LETTERS = 8_000  # of a frame of text
LOUDEST = 8.0  # of full scale; beyond it is no sound
# Close codes of RFC 6455, 7.4.1, and 1013 of IANA's registry ("try again later").
ENDED, NO_SENSE, BAD_DATA, NOT_ALLOWED, TOO_BIG, LATER = 1000, 1003, 1007, 1008, 1009, 1013


class Begin(Aimed):
    rate: int = Field(ge=LEAST_RATE, le=HIGHEST_RATE)


class Keep(BaseModel):
    """Keep the tone that sounds or was heard last, or all since the beginning, with a harp.

    `anyway`: though it sounds like another harp.
    """

    model_config = ConfigDict(extra="forbid")
    item: ItemNumber
    which: Literal["last", "all"] = "last"
    when: Literal["before", "after", "check"] = "check"
    note: Lines = ""
    anyway: bool = False


class Said(BaseModel):
    """A text frame: one of these."""

    model_config = ConfigDict(extra="forbid")
    begin: Begin | None = None
    aim: Aimed | None = None
    keep: Keep | None = None
    forget: bool = False
    stop: bool = False


class NotTaken(Exception):
    """The line is to be ended: the close code, and a sentence for the page."""

    def __init__(self, code: int, words: str) -> None:
        super().__init__(words)
        self.code, self.words = code, words


def said_in(text: str) -> Said:
    """A frame of text. Raises `NotTaken`."""
    if len(text) > MOST_LETTERS:
        raise NotTaken(TOO_BIG, "That is more text than the reed meter takes.")
    try:
        return Said.model_validate_json(text)
    except ValidationError as error:
        first = error.errors()[0]
        where = " ".join(str(part) for part in first["loc"])
        raise NotTaken(NO_SENSE, f"Not understood: {where}: {first['msg']}.") from None


def sound_in(frame: bytes) -> Array32:
    """A frame of sound, checked. Raises `NotTaken`."""
    if len(frame) > MOST_BYTES:
        raise NotTaken(TOO_BIG, "That is too much sound in one piece.")
    if not frame or len(frame) % 4:
        raise NotTaken(BAD_DATA, "That is no sound: it has to be 32-bit floats.")
    block: Array32 = np.frombuffer(frame, dtype="<f4").astype(np.float32)
    if not np.all(np.abs(block) <= LOUDEST):  # what is no number is refused, too
        raise NotTaken(BAD_DATA, "That is no sound: it goes beyond what a microphone gives.")
    return block
