"""Papers that bench sheets, labels and cards may be printed on, and how they reach the press.

Public: `BENCH_PAPERS`, `NoRoom`, `Paper`, `paper_named`, `template_path`, `typeset`.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.page.press import HERE, NotTypeset, Press
from reedwright.page.settings import PAPERS

A5 = ("a5", 148.0, 210.0)  # ISO 216
BENCH_PAPERS = {**PAPERS, "a5": A5}


# What templates say where words do not fit even in the smallest type that can be read.
NO_ROOM = "words do not fit"


class NoRoom(ReedwrightError):
    """More words than a label or card has room for."""


class Paper(NamedTuple):
    """Typst's name of a paper, with width and height in mm, upright."""

    name: str
    width: float
    height: float


def paper_named(name: str) -> Paper:
    """The paper of that name. Raises `ReedwrightError`."""
    if name not in BENCH_PAPERS:
        raise ReedwrightError(f"Paper {name!r}: choose one of {', '.join(BENCH_PAPERS)}.")
    return Paper(*BENCH_PAPERS[name])


def typeset(template: str, data: Mapping[str, object]) -> bytes:
    """The PDF/UA-1 of a template of ours. Raises `NotTypeset`, and `NoRoom` where it says so."""
    try:
        return Press(template_path(template)).typeset(data)
    except NotTypeset as error:
        if NO_ROOM in str(error):
            raise NoRoom(
                f"{data['title']}: the words do not fit. Shorten names and other words of your "
                "own, or ask for a larger size."
            ) from error
        raise


def template_path(name: str) -> Path:
    return HERE / "templates" / name
