"""The search for a better tuning as a job: tunes of the shelf in, a table and tunings out.

Public: `SearchAsked`, `SearchTask`, `search_task`, `search`, `keep_tuning`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import BaseModel, Field

from reedwright.datafiles import user_folders
from reedwright.errors import ReedwrightError
from reedwright.files import write_whole
from reedwright.folders.names import file_name
from reedwright.harp.making import AS_MADE, listed_reeds, make_harp, parse_valves
from reedwright.harp.model import Reed
from reedwright.harp.naming import KEYS, parse_key
from reedwright.harp.tunings import FOLDER_VARIABLE, all_tunings, read_tuning
from reedwright.player.loading import all_profiles
from reedwright.player.profile import Profile
from reedwright.shelf.facts.reading import tune_of
from reedwright.shelf.finding.model import Wanted
from reedwright.shelf.finding.searching import search as found_by_words
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Kind, Role
from reedwright.tab.words import counted
from reedwright.tune.model import Tune
from reedwright.web.bench.asking import Line, Wrong
from reedwright.web.harpform import Word
from reedwright.web.jobs.model import Outcome, Progress
from reedwright.web.numbers import NumberOrNone
from reedwright.workshop.search.model import Found, SearchResult, SearchWishes, layout_words

MOST_TUNES = 3000
ROWS = 6  # of each number of reeds
MOST_TITLES = 8  # of tunes won or lost
MOST_REEDS = 3


class SearchAsked(BaseModel):
    """Which tunes, and what may be changed. `chosen`: a list's number on the shelf."""

    ask: Word = ""
    tunes: Literal["all", "list", "words"] = "all"
    chosen: NumberOrNone = 0
    words: Line = ""
    player: Word = "player"
    base: Word = "richter"
    reeds: Annotated[int, Field(ge=1, le=MOST_REEDS)] = 1
    semitones: Annotated[int, Field(ge=1, le=3)] = 2
    octaves: Annotated[int, Field(ge=0, le=2)] = 1
    keys: Line = ""
    keep: Line = ""
    valves: Word = ""


class SearchTask(NamedTuple):
    """`shelf`: its folder; `tunes`: numbers of tunes on it."""

    shelf: Path
    tunes: tuple[int, ...]
    player: Profile
    wishes: SearchWishes


def search_task(shelf: Shelf, asked: SearchAsked) -> tuple[SearchTask | None, Wrong]:
    """The work that a form asks for; None, and why by field, where it can't be done."""
    wrong = Wrong()
    profiles = all_profiles()
    tunings = all_tunings()
    if asked.player not in profiles:
        wrong["player"] = "There is no player of that name any more; choose another."
    if asked.base not in tunings:
        wrong["base"] = "There is no tuning of that name any more; choose another."
    numbers = _numbers(shelf, asked, wrong)
    if wrong:
        return None, wrong
    base = tunings[asked.base]
    keys: tuple[str, ...] = ()
    kept: frozenset[Reed] = frozenset()
    try:
        named = [part for part in re.split(r"[,;\s]+", asked.keys) if part]
        keys = tuple(dict.fromkeys(parse_key(key) for key in named))
    except ReedwrightError as error:
        wrong["keys"] = str(error)
    try:
        if asked.keep.strip():
            kept = listed_reeds(asked.keep, base, "kept", "a list of reeds such as blow 1-3")
        if 2 * base.holes - len(kept) < asked.reeds:
            wrong["keep"] = "So many reeds are to be kept that too few are left to change."
    except ReedwrightError as error:
        wrong["keep"] = str(error)
    try:
        parse_valves(asked.valves.strip() or AS_MADE, base)
        make_harp(KEYS[0], base)
    except ReedwrightError as error:
        wrong["valves"] = str(error)
    if wrong:
        return None, wrong
    wishes = SearchWishes(
        base,
        asked.reeds,
        asked.semitones,
        keys or KEYS,
        tuple(range(-asked.octaves, asked.octaves + 1)),
        asked.valves.strip() or AS_MADE,
        kept,
    )
    return SearchTask(shelf.folder, numbers, profiles[asked.player], wishes), wrong


def _numbers(shelf: Shelf, asked: SearchAsked, wrong: Wrong) -> tuple[int, ...]:
    if asked.tunes == "words":
        if not asked.words.strip():
            wrong["words"] = "Say which tunes: a word of their titles, a type, a composer."
            return ()
        answer = found_by_words(shelf, Wanted(words=asked.words, limit=MOST_TUNES))
        found: Sequence[int] = [hit.item for hit in answer.hits]
        field, why = "words", "No tune is found by that."
    elif asked.tunes == "list":
        lists = {item.id for item in shelf.items(Kind.LIST)}
        links = shelf.links(asked.chosen, Role.ON) if asked.chosen in lists else ()
        found = [link.to for link in links]
        field, why = "chosen", "Choose a list with tunes in it."
    else:
        found = [item.id for item in shelf.items(Kind.TUNE)]
        field, why = "tunes", "There is no tune on the shelf yet."
    if not found:
        wrong[field] = why
    elif len(found) > MOST_TUNES:
        wrong[field] = (
            f"{len(found)} tunes are too many for one search here; {MOST_TUNES} at most. The "
            "command line takes more."
        )
    return tuple(dict.fromkeys(found))


def search(task: SearchTask, progress: Progress) -> Outcome:
    """Try the layouts. What was done is kept in the cache folder, so that the same search goes on
    where it was stopped."""
    from reedwright.workshop.search.engine import prepare, usage
    from reedwright.workshop.search.keeping import solver
    from reedwright.workshop.search.survey import survey

    tunes, left_out = _read(task, progress)
    if not tunes:
        raise ReedwrightError("None of these tunes has notes to search a tuning for.")
    problem = prepare(tunes, task.player, task.wishes)
    result = survey(
        [tune.title for tune in tunes],
        problem,
        usage(problem),
        solver(problem, None, None, progress),
        progress=progress,
    )
    return Outcome(
        facts=_facts(result, task.player.name), notices=tuple(left_out), go="/bench/tuning"
    )


def _read(task: SearchTask, progress: Progress) -> tuple[list[Tune], list[str]]:
    tunes: list[Tune] = []
    left_out: list[str] = []
    with open_shelf(task.shelf) as shelf:
        for done, number in enumerate(task.tunes):
            if done % 50 == 0:
                progress(done / len(task.tunes), "reading the tunes")
            item = shelf.item(number)
            try:
                tune = tune_of(shelf, item)
            except ReedwrightError as error:
                left_out.append(f"{item.name} is left out: {error}")
                continue
            if any(bar.notes for bar in tune.bars):
                tunes.append(tune)
            else:
                left_out.append(f"{item.name} is left out: there are no notes in it.")
    return tunes, left_out


def _facts(result: SearchResult, player: str) -> Mapping[str, Any]:
    """What the page shows: as `search_text` tells it, the best rows of each number of reeds."""
    from reedwright.workshop.search.words import search_title

    tables = []
    for reeds, rows in enumerate(result.best, start=1):
        tables.append(
            {
                "reeds": reeds,
                "exact": reeds <= result.exact,
                "rows": [_row(result, row, player) for row in rows[:ROWS]],
            }
        )
    base = result.base
    return {
        "title": search_title(result, player),
        "tunes": len(result.titles),
        "layouts": result.layouts,
        "base": {"plain": base.plain, "playable": base.playable, "effort": base.effort},
        "tables": tables,
    }


def _row(result: SearchResult, row: Found, player: str) -> dict[str, Any]:
    from reedwright.workshop.search.saving import tuning_toml
    from reedwright.workshop.search.words import found_tuning

    return {
        "words": layout_words(row.layout),
        "plain": row.score.plain,
        "effort": row.score.effort,
        "saved": result.base.effort - row.score.effort,
        "relearned": row.score.relearned,
        "won": _titles(result, row.won),
        "lost": _titles(result, row.lost),
        "won_count": len(row.won),
        "lost_count": len(row.lost),
        "toml": tuning_toml(found_tuning(result, row, player)),
    }


def _titles(result: SearchResult, indexes: Sequence[int]) -> str:
    titles = [result.titles[index] for index in indexes[:MOST_TITLES]]
    more = len(indexes) - len(titles)
    return "; ".join(titles) + (f"; and {counted(more, 'more', 'more')}" if more > 0 else "")


def keep_tuning(toml: str, name: str) -> str:
    """Keep a tuning that was found among the user's own; its name from then on.

    Raises `ReedwrightError` where there is one of that name, or it can't be written.
    """
    if not re.search(r"[a-zA-Z0-9]", name):
        raise ReedwrightError("A tuning needs a name with letters or figures, such as my low A.")
    called = file_name(name)
    if called in all_tunings():
        raise ReedwrightError(f"There is a tuning named '{called}' already; choose another name.")
    folder = user_folders("tunings", FOLDER_VARIABLE)[0]
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{called}.toml"
    write_whole(path, toml.encode("utf-8"))
    return read_tuning(path).name
