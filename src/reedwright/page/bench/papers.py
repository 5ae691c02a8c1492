"""Papers that bench sheets, labels and cards may be printed on, and how they reach the press.

Public: `Paper`, `paper_named`, `typeset`.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.page.press import HERE, Press
from reedwright.page.settings import PAPERS

A5 = ("a5", 148.0, 210.0)  # ISO 216
BENCH_PAPERS = {**PAPERS, "a5": A5}


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
    """The PDF/UA-1 of a template of ours. Raises `NotTypeset`."""
    return Press(template_path(template)).typeset(data)


def template_path(name: str) -> Path:
    return HERE / "templates" / name
