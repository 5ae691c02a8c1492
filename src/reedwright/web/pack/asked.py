"""What a pack's page asks for: checked, and as the rooms' own settings.

Public: `PageAsked`, `PackAsked`, `PreviewAsked`, `wanted_arrangement`.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, Field, field_validator

from reedwright.pack.settings import PackSettings
from reedwright.page.settings import PageSettings
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.choices.entries import amount_of
from reedwright.tab.choices.model import TuneChoices
from reedwright.takes.practice.settings import (
    DEFAULT_SLOW_PERCENT,
    FASTEST_PERCENT,
    SLOWEST_PERCENT,
)
from reedwright.web.music.arranging import harps_to_choose_from, settled
from reedwright.web.music.opening import OpenTune
from reedwright.web.numbers import ItemNumber

SLOWEST, FASTEST = 10, 1000  # quarter notes a minute; nobody practises outside (our judgement)
MOST_BALANCE = 100
MOST_SPEEDS = 8
Percent = Annotated[int, Field(ge=SLOWEST_PERCENT, le=FASTEST_PERCENT)]


class PageAsked(BaseModel):
    """What bears on the page. Empty texts: as the tune's own choices have it."""

    paper: Literal["a4", "letter"] = "a4"
    tab_style: Literal["arrows", "signs", "rows"] = "arrows"
    tempo: Annotated[float, Field(ge=SLOWEST, le=FASTEST)] | None = None
    breath_plot: bool = False
    amount: Literal["", "none", "written", "light", "medium", "full"] = ""
    second_time: Literal["", "yes", "no"] = ""
    balance: Annotated[float, Field(ge=0, le=MOST_BALANCE)] | None = None

    @field_validator("tempo", "balance", mode="before")
    @classmethod
    def _empty(cls, value: object) -> object:
        """A field that nothing was written in."""
        return None if value == "" else value

    def page_settings(self) -> PageSettings:
        return PageSettings(self.paper, self.tab_style, self.tempo, None, self.breath_plot)


class PackAsked(PageAsked):
    """All of a pack. `take`: a recording's number on the shelf."""

    speeds: Annotated[list[Percent], Field(max_length=MOST_SPEEDS)] = [DEFAULT_SLOW_PERCENT]
    straight: bool = False
    no_count_in: bool = False
    loops: bool = False
    take: ItemNumber | None = None
    take_beside: bool = False
    take_parts: bool = False
    played_by: Annotated[str, Field(max_length=120)] = ""

    def pack_settings(self, take: Path | None) -> PackSettings:
        """`take`: the recording, as a file."""
        return PackSettings(
            paper=self.paper,
            tab_style=self.tab_style,
            speeds=tuple(dict.fromkeys(self.speeds)),
            tempo=self.tempo,
            lilt=not self.straight,
            count_in=not self.no_count_in,
            loops=self.loops,
            breath_plot=self.breath_plot,
            take=take,
            take_beside=take is not None and self.take_beside,
            take_parts=take is not None and self.take_parts,
            played_by=" ".join(self.played_by.split()),
        )


class PreviewAsked(PackAsked):
    page: Annotated[int, Field(ge=1, le=999)] = 1


def wanted_arrangement(shelf: Shelf, tune: OpenTune, asked: PageAsked) -> Arrangement:
    """The tune's usual arrangement with what is asked for here. Raises as `arranged`."""
    session = settled(tune.tune, _choices(tune.choices, asked), harps_to_choose_from(shelf))
    return replace(session, quarters_per_minute=asked.tempo).arranged()


def _choices(choices: TuneChoices, asked: PageAsked) -> TuneChoices:
    if asked.amount:
        choices = replace(choices, amount=amount_of(asked.amount))
    if asked.second_time:
        choices = replace(choices, second_time=asked.second_time == "yes")
    if asked.balance is not None:
        choices = replace(choices, weights={**choices.weights, "breath_balance": asked.balance})
    return choices
