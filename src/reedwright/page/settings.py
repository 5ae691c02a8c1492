"""What may be chosen about a lesson page."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from reedwright.errors import ReedwrightError

# Typst's names of the papers, with width and height in mm (ISO 216; ANSI/ASME Y14.1).
PAPERS = {"a4": ("a4", 210.0, 297.0), "letter": ("us-letter", 215.9, 279.4)}

SIDE_MARGIN = 16.0  # mm


@dataclass(frozen=True, slots=True)
class PageSettings:
    """Settings of a page.

    `tab_style`: arrows, signs or rows. `tempo`: quarter notes a minute to print, None for
    the tune's own. `template`: a Typst file of the user's own, None for ours. `breath_plot`:
    whether the breath account is drawn under the tune.
    """

    paper: str = "a4"
    tab_style: str = "arrows"
    tempo: float | None = None
    template: Path | None = None
    breath_plot: bool = False

    def __post_init__(self) -> None:
        if self.paper not in PAPERS:
            raise ReedwrightError(f"Paper {self.paper!r}: choose one of {', '.join(PAPERS)}.")

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the paper, mm."""
        return PAPERS[self.paper][1:]
