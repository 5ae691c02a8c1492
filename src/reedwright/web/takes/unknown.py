"""Jobs for recordings of tunes that are not known: a first notation, or which of the shelf's it is.

Public: `UnknownTask`, `note_down`, `look_for`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, Field

from reedwright.errors import ReedwrightError
from reedwright.shelf.finding.melodies import melodies_of
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.tab.words import counted
from reedwright.takes.asking import queries_of
from reedwright.takes.transcribing.model import NotationWishes
from reedwright.takes.transcribing.transcribe import transcribe
from reedwright.takes.work import Listened, listen
from reedwright.tune.abc.keys import read_key
from reedwright.tune.abc.metres import read_meter
from reedwright.tune.likeness.finding import find_any
from reedwright.tune.likeness.model import FEWEST_NOTES, Match, NotFindable
from reedwright.tune.likeness.words import match_report
from reedwright.web.jobs.model import Outcome, Progress
from reedwright.web.sound_sent import named

MOST_FOUND = 10
HARDLY = 0.65  # a score under which it is hardly the tune (docs/finding.md)
LISTENING_SHARE = 0.9  # of the work, about
_Short = Annotated[str, Field(max_length=100)]


class Known(BaseModel):
    """What the player knows of a tune already; empty where nothing."""

    title: _Short = ""
    type: _Short = ""
    meter: _Short = ""
    key: _Short = ""

    def wishes(self) -> NotationWishes:
        """Raises `ReedwrightError` for a metre or a key that can't be read."""
        meter = read_meter(self.meter) if self.meter.strip() else None
        if self.meter.strip() and (meter is None or meter.free):
            raise ReedwrightError(f"'{self.meter}': write a metre such as 6/8, 4/4 or C|.")
        field = read_key(self.key) if self.key.strip() else None
        if self.key.strip() and (field is None or field.key is None or field.key.mode == "none"):
            raise ReedwrightError(f"'{self.key}': write a key as in ABC, such as G, Em or Ador.")
        return NotationWishes(
            title=" ".join(self.title.split()),
            type=" ".join(self.type.split()),
            meter=meter,
            key=field.key if field else None,
        )


@dataclass(frozen=True, slots=True)
class UnknownTask:
    """`sound`: a passing file of ours; `name`: what the user calls it."""

    shelf: Path
    sound: Path
    name: str
    known: Known


def _heard(task: UnknownTask, progress: Progress) -> Listened:
    try:
        return listen(task.sound, lambda share, doing: progress(LISTENING_SHARE * share, doing))
    except ReedwrightError as error:
        raise ReedwrightError(named(str(error), task.sound, task.name)) from None


def _troubles(listened: Listened, task: UnknownTask) -> tuple[str, ...]:
    return tuple(named(each.message, task.sound, task.name) for each in listened.troubles)


def note_down(task: UnknownTask, progress: Progress) -> Outcome:
    """A `Work`: the tune as ABC, with how sure each bar is."""
    wishes = task.known.wishes()
    if not wishes.title:
        stem = task.name.rpartition(".")[0] or task.name
        wishes = replace(wishes, title=stem.replace("-", " ").replace("_", " "))
    listened = _heard(task, progress)
    progress(LISTENING_SHARE, "writing it down")
    found = transcribe(listened.heard, wishes)
    facts = {
        "abc": found.abc,
        "title": found.tune.title,
        "sureness": round(found.sureness, 2),
        "meter": [found.tune.meter.name, round(found.meter_sureness, 2)],
        "key": [found.tune.key.name, round(found.key_sureness, 2)],
        "remarks": list(found.remarks),
        "doubts": [[bar.number, bar.doubt] for bar in found.bars if bar.doubt],
    }
    return Outcome(facts=facts, notices=_troubles(listened, task), go="/takes/noted")


def look_for(task: UnknownTask, progress: Progress) -> Outcome:
    """A `Work`: the shelf's tunes that it may be, the likeliest first. Raises `NotFindable`."""
    listened = _heard(task, progress)
    if len(listened.heard.notes) < FEWEST_NOTES:
        raise NotFindable(
            f"{task.name}: {counted(len(listened.heard.notes), 'note')} heard; a tune is found by "
            f"{FEWEST_NOTES} at least. Play a little more of it."
        )
    progress(LISTENING_SHARE, "looking through the shelf")
    queries = queries_of(listened.heard)
    best: dict[int, Match] = {}
    with open_shelf(task.shelf) as shelf:
        melodies = melodies_of(shelf)
        for part, live in zip(melodies.parts, melodies.live, strict=True):
            for match in find_any(part.collection, queries, MOST_FOUND):
                if live[match.index]:
                    item = int(part.items[match.index])
                    best[item] = match
        order = sorted(best, key=lambda item: (-best[item].score, item))[:MOST_FOUND]
        tunes = [
            {
                "item": item,
                "title": shelf.item(item).name,
                "score": round(best[item].score, 3),
                "words": match_report(best[item])["words"],
                "hardly": best[item].score < HARDLY,
            }
            for item in order
        ]
    return Outcome(facts={"tunes": tunes}, notices=_troubles(listened, task), go="/takes/which")
