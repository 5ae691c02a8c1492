"""What a teacher may choose about a pack."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from reedwright.errors import ReedwrightError
from reedwright.page.settings import PAPERS
from reedwright.takes.practice.settings import DEFAULT_SLOW_PERCENT, check_speeds


@dataclass(frozen=True, slots=True)
class PackSettings:
    """`speeds` are percents of the full tempo, for tracks beside the full one.

    `tempo` is in quarter notes a minute, None for the tune's own or its type's.
    `lilt`: whether hornpipes and reels get their usual lilt.
    `template`: a Typst template of the user's own. `loops`: the passages of the practice
    plan as sound as well. `breath_plot`: the breath account drawn under the tune.
    `take`: a recording of the tune whose tracks take the place of the synthesised sound,
    or stand beside it (`take_beside`); `take_parts`: its parts as tracks too; `played_by` is
    the player's name for the tags.
    """

    paper: str = "a4"
    tab_style: str = "arrows"
    speeds: tuple[int, ...] = (DEFAULT_SLOW_PERCENT,)
    tempo: float | None = None
    lilt: bool = True
    count_in: bool = True
    template: Path | None = None
    loops: bool = False
    breath_plot: bool = False
    take: Path | None = None
    take_beside: bool = False
    take_parts: bool = False
    played_by: str = ""

    def __post_init__(self) -> None:
        if self.paper not in PAPERS:
            raise ReedwrightError(f"Paper {self.paper!r}: choose one of {', '.join(PAPERS)}.")
        check_speeds(self.speeds)
        if self.template is not None and not self.template.is_file():
            raise ReedwrightError(f"No template {self.template}: name a Typst file that exists.")
        if self.take is None and (self.take_beside or self.take_parts):
            raise ReedwrightError("No recording was named: choose one whose tracks are wanted.")
        if self.take is not None and not self.take.is_file():
            raise ReedwrightError(f"No recording {self.take}: name a sound file that exists.")
