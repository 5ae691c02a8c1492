"""One note for the student, and how places in it are named.

Public: `Remark`, `named`, `bar_numbers`, `MOST_NAMED`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from reedwright.tab.words import number_word

MOST_NAMED = 4  # places named in one remark


class Remark(NamedTuple):
    """One note for the student. `bars` are the printed bar numbers that it speaks of."""

    topic: str
    text: str
    bars: tuple[int, ...] = ()

    def __str__(self) -> str:
        return self.text


def named(names: Sequence[str]) -> str:
    """The first few, and how many more there are; each has bars of its own, so no "and"."""
    if len(names) <= MOST_NAMED:
        return "; ".join(names)
    left_out = number_word(len(names) - MOST_NAMED)
    return "; ".join([*names[:MOST_NAMED], f"and {left_out} more"])


def bar_numbers(numbers: Iterable[int]) -> tuple[int, ...]:
    return tuple(sorted(set(numbers)))
