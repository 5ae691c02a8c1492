"""Made-up tunes with all that bears on effort: repeats and endings, ties, slurs, rests, grace
notes, rolls, slides and trills."""

from __future__ import annotations

import random

from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

KEYS = ("G", "D", "Am", "C", "Edor", "F", "Bb")
NOTES = ("D", "E", "F", "G", "A", "B", "c", "d", "e", "f", "g", "a", "b", "^G", "_B", "^c")
MARKS = ("~", "!slide!", "!trill!", "!lowermordent!", "!uppermordent!")


def made_tune(rng: random.Random, bars: int = 5, title: str = "Made up") -> Tune:
    notes = rng.sample(NOTES, rng.randint(4, 9))

    def note() -> str:
        text = rng.choice(notes)
        if rng.random() < 0.25:
            graces = "".join(rng.choice(notes) for _ in range(rng.randint(1, 2)))
            text = f"{{{graces}}}{text}"
        if rng.random() < 0.15:
            text = rng.choice(MARKS) + text
        text += rng.choice(("", "", "2", "/"))
        if rng.random() < 0.1:
            text += " z"
        return text

    def bar() -> str:
        each = [note() for _ in range(rng.randint(2, 4))]
        if rng.random() < 0.3:
            each = ["(", *each, ")"]
        if rng.random() < 0.2:
            plain = rng.choice(notes)
            each.append(f"{plain}-{plain}")
        return "".join(each)

    every = [bar() for _ in range(bars)]
    body = f"|:{'|'.join(every[:-2])}|1 {every[-2]}:|2 {every[-1]}|]"
    text = (
        f"X:1\nT:{title}\nR:{rng.choice(('reel', 'waltz', 'jig'))}\nM:none\nL:1/8\n"
        f"Q:1/4={rng.choice((80, 120, 180))}\nK:{rng.choice(KEYS)}\n{body}\n"
    )
    (tune,) = read_abc(text)
    assert isinstance(tune, Tune), tune
    return tune
