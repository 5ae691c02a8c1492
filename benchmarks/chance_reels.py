"""Tunes made up by chance, and changed by chance, for those that measure the web app."""

from __future__ import annotations

import random

NOTES = "GABcdefg"


def reel(chance: random.Random) -> str:
    """32 bars made up by chance: four parts of eight, each repeated."""
    bars = ["".join(chance.choice(NOTES) for _ in range(8)) for _ in range(32)]
    lines = ["|".join(bars[at : at + 4]) for at in range(0, 32, 4)]
    music = "".join(f"|:{lines[k]}|\n{lines[k + 1]}:|\n" for k in range(0, 8, 2))
    return f"X:1\nT:Made by Chance\nR:reel\nM:4/4\nL:1/8\nK:G\n{music}"


def changed(text: str, chance: random.Random) -> str:
    """One note of it another one."""
    places = [at for at in range(text.index("K:G\n") + 4, len(text)) if text[at] in NOTES]
    at = chance.choice(places)
    return text[:at] + chance.choice(NOTES.replace(text[at], "")) + text[at + 1 :]
