"""The scale from work (effort a second) to a grade, and the word for it.

The grade grows with the logarithm of the work: three grades on, the work is twice as much.
Where the scale lies was set on the 1850 collection (docs/difficulty.md); the doubling and
the words are our judgement.

Public: `LOWEST`, `HIGHEST`, `STEP`, `graded`, `grade_of`, `work_at`, `grade_word`, `grade_text`.
"""

from __future__ import annotations

from math import floor, log2

LOWEST, HIGHEST, STEP = 1.0, 10.0, 0.5

WORK_OF_LOWEST = 2.0
"""Effort a second of grade 1."""
GRADES_A_DOUBLING = 3.0
"""So many grades on, the work is twice as much."""

_WORDS = ((2.5, "very easy"), (4.5, "easy"), (6.5, "moderate"), (8.5, "hard"))
_LAST_WORD = "very hard"


def graded(work: float) -> float:
    """The place on the scale before rounding, from `LOWEST` to `HIGHEST`."""
    if work <= WORK_OF_LOWEST:
        return LOWEST
    return min(HIGHEST, LOWEST + GRADES_A_DOUBLING * log2(work / WORK_OF_LOWEST))


def grade_of(work: float) -> float:
    """The grade, to the nearest half (halves of halves upward, so that it never falls)."""
    return floor(graded(work) / STEP + 0.5) * STEP


def work_at(grade: float) -> float:
    """Effort a second at a place on the scale."""
    return float(WORK_OF_LOWEST * 2 ** ((grade - LOWEST) / GRADES_A_DOUBLING))


def grade_word(grade: float) -> str:
    """`very easy`, `easy`, `moderate`, `hard` or `very hard`."""
    return next((word for below, word in _WORDS if grade < below), _LAST_WORD)


def grade_text(grade: float) -> str:
    """`6`, `6.5`."""
    return f"{grade:g}"
