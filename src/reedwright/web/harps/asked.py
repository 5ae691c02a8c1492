"""What the page of harps is asked for: all of it stands in the address.

Public: `Asked`, `SeenAsked`, `HeardAsked`, `COLUMNS`, `picked`, `pick_of`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated
from urllib.parse import urlencode

from pydantic import BaseModel, Field

from reedwright.harp.making import HarpError
from reedwright.harp.model import Harp
from reedwright.harp.written import harp_text
from reedwright.web.music.naming import harp_named
from reedwright.web.music.told import Speed

Octave = Annotated[int, Field(ge=-1, le=1)]
MOST_ROWS = (30, 100, 200)
"""How many rows a table may have; the first unless asked otherwise."""

COLUMNS: Mapping[str, str] = {
    "rank": "Rank",
    "harp": "Harp",
    "position": "Position",
    "octave": "Octave",
    "effort": "Effort a note",
    "turning": "of it, breath turns",
    "moving": "moves",
    "bending": "bends",
    "other": "other",
    "bends": "Bends",
    "overs": "Over\u00adblows",
    "missing": "Missing",
    "ornaments": "Ornaments changed",
    "holes": "Holes",
    "air": "Short of breath",
}
"""By the word in the address the head of the column."""

Word = Annotated[str, Field(max_length=120)]
Words = Annotated[list[Word], Field(max_length=40)]


class Asked(BaseModel):
    """`mine`: only harps on the shelf. `player`: a profile by its key, the tune's own where it is
    empty. `position`, `tuning`, `octave`: any of these, all where there is none. `plain`: without
    bends, `no_over`: without overblows and overdraws, `whole`: no note missing. `voice` counts
    from 1; 0 is the tune's own. `sort`: a column, with a minus before it downwards; `order` is
    what it was before and counts where `sort` is not given."""

    mine: bool = False
    player: Word = ""
    position: Annotated[list[Annotated[int, Field(ge=1, le=12)]], Field(max_length=24)] = []
    tuning: Words = []
    octave: Annotated[list[Octave], Field(max_length=6)] = []
    plain: bool = False
    no_over: bool = False
    whole: bool = False
    voice: Annotated[int, Field(ge=0, le=99)] = 0
    most: Annotated[int, Field(ge=1, le=MOST_ROWS[-1])] = MOST_ROWS[0]
    order: Word = ""
    sort: Word = ""

    @property
    def column(self) -> str:
        """The column that the rows are in the order of."""
        name = (self.sort or self.order).removeprefix("-")
        return name if name in COLUMNS else "rank"

    @property
    def down(self) -> bool:
        return (self.sort or self.order).startswith("-")

    @property
    def ordered(self) -> str:
        return ("-" if self.down else "") + self.column

    def toggled(self, column: str) -> str:
        """What a press on that column's head asks for: the other way round where it is sorted
        by already."""
        return f"-{column}" if column == self.column and not self.down else column

    @property
    def query(self) -> str:
        """The same as an address has it, without what goes without saying."""
        said: list[tuple[str, str]] = []
        for name in ("mine", "plain", "no_over", "whole"):
            if getattr(self, name):
                said.append((name, "1"))
        if self.player:
            said.append(("player", self.player))
        for name in ("position", "tuning", "octave"):
            said += [(name, str(each)) for each in getattr(self, name)]
        if self.voice:
            said.append(("voice", str(self.voice)))
        if self.most != MOST_ROWS[0]:
            said.append(("most", str(self.most)))
        if self.ordered != "rank":
            said.append(("sort", self.ordered))
        return urlencode(said)


class SeenAsked(BaseModel):
    """A harp to see the tune on: `harp` as `pick_of` writes it; empty: the tune's own."""

    harp: Word = ""
    player: Word = ""
    voice: Annotated[int, Field(ge=0, le=99)] = 0


class HeardAsked(SeenAsked):
    """The same, to be heard."""

    speed: Speed = 1.0
    count_in: bool = False


def pick_of(harp: Harp, octaves: int) -> str:
    """A harp and the octaves that the tune is moved by, as addresses have them: `low D@-1`."""
    return f"{harp_text(harp)}@{octaves}"


def picked(pick: str) -> tuple[Harp, int]:
    """The harp and the octaves of such a text. Raises as `harp_named`."""
    text, at, octaves = pick.rpartition("@")
    if not at or octaves not in ("-1", "0", "1"):
        raise HarpError(f"'{pick}' is no harp of the table; choose one there.")
    return harp_named(text), int(octaves)
