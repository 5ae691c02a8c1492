"""What the tune page and the server say to each other, as JSON.

Places in the text are lines and columns from 1; lengths are characters. Times are seconds.

Public: the models.
"""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, Field

from reedwright.web.music.standing import Version
from reedwright.web.music.told import rows
from reedwright.web.troubles import Trouble

Pairs = Annotated[list[tuple[str, str]], rows("string", columns=2)]
Voices = Annotated[list[tuple[int, str]], rows("integer", "string", columns=2)]

MOST_TEXT = 100_000  # characters: thirty times a long tune, and read in a few seconds
MOST_NAME = 120

WidthName = Literal["wide", "narrow", "stand", "large"]
Severity = Literal["error", "warning"]


# What XML cannot hold (XML 1.0, production 2), and so no text that is to be engraved.
_NO_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")


def _printable(text: str) -> str:
    found = _NO_TEXT.search(text)
    if found is None:
        return text
    place, sign = found.start() + 1, ord(found[0])
    raise ValueError(f"the sign at place {place} (U+{sign:04X}) is no text; take it out")


_SAID = {"pattern": r"^[^\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]*$"}
Text = Annotated[
    str, Field(max_length=MOST_TEXT, json_schema_extra=_SAID), AfterValidator(_printable)
]
Name = Annotated[
    str, Field(max_length=MOST_NAME, json_schema_extra=_SAID), AfterValidator(_printable)
]


class ProblemView(BaseModel):
    line: int
    column: int
    length: int
    message: str
    severity: Severity


class SheetView(BaseModel):
    """`remarks` is null where they are not worked out yet: `/tunes/{tune}/remarks` has them."""

    systems: list[str]
    chart: str
    words: str
    tab: str
    signs: Pairs
    facts: Pairs
    remarks: list[str] | None


class Remarks(BaseModel):
    """Notes on practice, the most useful first, and the states of which they are."""

    version: Version
    remarks: list[str]


class BarView(BaseModel):
    """`index` counts the bars from 0; `number` is printed. From where to where it stands in the
    text; the end is the place after its last note or rest."""

    index: int
    number: int
    notes: list[str]
    line: int
    column: int
    end_line: int
    end_column: int


class NoteView(BaseModel):
    """`bar` is an index. `way` is empty where the harp has no such note. `line` is 0 where the
    note stands nowhere in the text."""

    id: str
    line: int
    column: int
    length: int
    bar: int
    pitch: str
    tab: str
    way: str
    way_words: str
    pinned: bool


class View(BaseModel):
    """A tune as the page shows it. `stale_sheet`: the music is that of an earlier state, as the
    text cannot be read. `harp` is empty where none is chosen, and `harp_name` then the easiest.
    `notices`: choices that are not honoured just now, and why; `said`: what the step that was
    taken changed."""

    tune: int
    title: str
    version: Version
    text: str
    editable: bool
    readable: bool
    problems: list[ProblemView]
    sheet: SheetView | None
    stale_sheet: bool
    bars: list[BarView]
    notes: list[NoteView]
    harp: str
    harp_name: str
    position: str
    octaves: int
    semitones: int
    player: str
    voice: int
    voices: Voices
    amount: str
    second_time: bool
    balance: float
    speed_quarters: float
    can_undo: bool
    can_redo: bool
    undo_says: str
    redo_says: str
    said: list[str]
    notices: list[str]
    harps: Pairs
    players: Pairs


class Changed(Trouble):
    """Somebody else changed it meanwhile; `view` is what it is now."""

    view: View


class TextAsked(BaseModel):
    text: Text
    made_from: Version
    width: WidthName = "wide"


class CopyAsked(BaseModel):
    text: Text


class Copied(BaseModel):
    tune: int


class StepAsked(BaseModel):
    """Undo or redo."""

    made_from: Version
    width: WidthName = "wide"


class SettingsAsked(BaseModel):
    """Of the whole tune; what is not named stays. Nothing in quotes, and null, take a choice
    back."""

    harp: Name | None = None
    player: Name | None = None
    octaves: Annotated[int, Field(ge=-4, le=4)] | None = None
    semitones: Annotated[int, Field(ge=-24, le=24)] | None = None
    amount: Literal["", "none", "as written", "light", "medium", "full"] | None = None
    second_time: bool | None = None
    voice: Annotated[int, Field(ge=1, le=1000)] | None = None
    balance: Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)] | None = None


Do = Literal[
    "play", "unpin", "never", "allow", "ornament", "breathe", "clear", "set", "take-fingering"
]


class ChoiceAsked(BaseModel):
    """One step. `way` as words or signs: `3 draw bent a semitone`; `kind` of an ornament, `none`
    or `as written`; `breathe` null takes the choice back; `time` 1 or 2 where repeats are
    written out. For "take-fingering": `fingering` counts from 1, within `bars` (printed
    numbers)."""

    made_from: Version
    width: WidthName = "wide"
    do: Do
    note: Name = ""
    way: Name = ""
    kind: Name = ""
    breathe: bool | None = None
    time: Annotated[int, Field(ge=0, le=2)] = 0
    settings: SettingsAsked = SettingsAsked()
    fingering: Annotated[int, Field(ge=1, le=50)] = 1
    bars: Annotated[list[Annotated[int, Field(ge=0, le=100_000)]], Field(max_length=64)] = []


class NowView(BaseModel):
    way: str
    sign: str
    words: str


class WayView(BaseModel):
    """`effort_change`: of the whole tune, were the note played so and the rest as suits best."""

    way: str
    sign: str
    words: str
    effort_change: float
    why: list[str]
    pinned: bool
    forbidden: bool
    current: bool
    lacks: str


class OrnamentView(BaseModel):
    """`effort_change` is null where it is not possible."""

    kind: str
    word: str
    possible: bool
    why: str
    effort_change: float | None
    chosen: bool


class BreathView(BaseModel):
    possible: bool
    now: bool
    wish: bool | None
    why: str


class NoteDetail(BaseModel):
    id: str
    bar: int
    pitch: str
    words: str
    now: NowView | None
    ways: list[WayView]
    ornaments: list[OrnamentView]
    breath: BreathView
