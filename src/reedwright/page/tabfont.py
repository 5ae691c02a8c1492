"""The tab font's measure: how wide a tab text stands, so that the music leaves room for it.

`fonts/ReedwrightTab.ttf` is made by tools/make_tab_font.py; a test compares the
table below with the font.
"""

from __future__ import annotations

FAMILY = "Reedwright Tab"
# Advance widths in thousandths of an em.
ADVANCES = {
    "0": 539, "1": 416, "2": 459, "3": 468, "4": 507, "5": 483, "6": 516, "7": 420,
    "8": 522, "9": 508, "↑": 400, "↓": 400, "′": 190, "°": 469, "<": 466, "+": 476,
    "−": 466, "×": 466,
}  # fmt: skip
WIDEST = 560  # for characters that the table lacks


def text_width(text: str) -> float:
    """Width in em."""
    return sum(ADVANCES.get(character, WIDEST) for character in text) / 1000


def printed(text: str) -> str:
    """Typewriter signs as the printed ones: a true prime, a true minus."""
    return text.replace("'", "′").replace("-", "−")
