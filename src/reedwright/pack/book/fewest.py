"""The fewest harps for a whole book: which harps, and which tune on which.

What each tune takes on each harp is kept in the stock, so that a changed tune is worked out alone.

Public: `on_fewest_harps`, `OnFewest`.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from reedwright.harp.making import made_harps
from reedwright.harp.model import Harp
from reedwright.harp.tunings import all_tunings
from reedwright.pack.book.arranging import OCTAVES
from reedwright.pack.book.crew import Failed, worked_out
from reedwright.pack.book.fingerprint import key_of_values
from reedwright.pack.book.hearing import heard
from reedwright.pack.book.model import BookPlan, FewestHarps, PlannedTune
from reedwright.pack.book.stock import Stock
from reedwright.tab.sets.efforts import EffortTable, efforts
from reedwright.tab.sets.fewest import HarpChoice, fewest_harps
from reedwright.tab.words import counted
from reedwright.tune.transpose import transposed

_FIGURES = ("missing", "bends", "overblows", "per_note", "preference")
_DTYPES = ("<i4", "<i4", "<i4", "<f8", "<f8")


class OnFewest(NamedTuple):
    """The plan with a harp for each tune, and sentences on how that went."""

    plan: BookPlan
    notices: tuple[str, ...]


def on_fewest_harps(
    plan: BookPlan,
    stock: Stock,
    workers: int,
    progress: Callable[[float, str], None] = lambda share, doing: None,
) -> OnFewest:
    """Name the harp and octave of every tune for which the plan names no harp.

    A tune that none of the harps plays within the limit goes on the one that it lies best on, and
    is told. Raises `SetsError` for wishes that contradict each other.
    """
    asked = plan.fewest
    if asked is None:
        return OnFewest(plan, ())
    fixed = tuple(dict.fromkeys(tune.harp for tune in plan.tunes if tune.harp is not None))
    given = asked.harps if asked.harps is not None else made_harps(all_tunings().values())
    harps = tuple(dict.fromkeys((*given, *asked.wishes.must, *asked.wishes.owned, *fixed)))
    open_tunes = [tune for tune in plan.tunes if tune.harp is None]
    if not open_tunes:
        return OnFewest(plan, ())
    table = _table(open_tunes, harps, stock, workers, progress)
    wishes = replace(asked.wishes, must=tuple(dict.fromkeys((*asked.wishes.must, *fixed))))
    choice = heard(lambda: fewest_harps(table, asked.limit, wishes))
    settled = _settled(open_tunes, choice)
    chapters = tuple(
        replace(chapter, tunes=tuple(settled.get(tune.name, tune) for tune in chapter.tunes))
        for chapter in plan.chapters
    )
    return OnFewest(replace(plan, chapters=chapters, fewest=None), _notices(choice, asked))


def _settled(tunes: Sequence[PlannedTune], choice: HarpChoice) -> dict[str, PlannedTune]:
    found = {}
    for on in choice.tunes:
        planned = tunes[on.place]
        found[planned.name] = replace(planned, harp=on.harp, harps=None, octaves=on.octaves)
    for out in choice.left_out:
        planned = tunes[out.place]
        found[planned.name] = replace(planned, harps=choice.harps or planned.harps)
    return found


def _notices(choice: HarpChoice, asked: FewestHarps) -> tuple[str, ...]:
    words = f" ({asked.limit.words})" if asked.limit.words else ""
    said = [
        f"{counted(len(choice.harps), 'harp')} for {counted(len(choice.tunes), 'tune')}{words}: "
        f"{'; '.join(harp.name for harp in choice.harps)}."
    ]
    if not choice.proven:
        said.append("It was not proven in the time given that fewer would not do.")
    said += [
        f"{out.tune.title} is on the easiest of these harps all the same: {out.why}."
        for out in choice.left_out
    ]
    return tuple(said)


def _table(
    tunes: Sequence[PlannedTune],
    harps: tuple[Harp, ...],
    stock: Stock,
    workers: int,
    progress: Callable[[float, str], None],
) -> EffortTable:
    """What every tune takes on every harp, those rows that are known taken from the stock."""
    tasks = [_task(planned, harps) for planned in tunes]
    told = key_of_values(harps)
    keys = [key_of_values((told, *task[:1], *task[2:])) for task in tasks]
    rows: dict[int, bytes] = {}
    for place, key in enumerate(keys):
        kept = stock.get(key)
        if kept is not None and _row(kept, tunes[place], harps) is not None:
            rows[place] = kept
    wanted = [place for place in range(len(tunes)) if place not in rows]
    results = worked_out(_worked, [tasks[place] for place in wanted], workers)
    failed: dict[int, str] = {}
    for done, (nth, result) in enumerate(results, start=1):
        place = wanted[nth]
        if isinstance(result, Failed):
            failed[place] = result.message
        else:
            stock.put(keys[place], result)
            rows[place] = result
        progress(done / len(wanted), f"trying the harps, {done} of {len(wanted)}")
    return _joined(tunes, harps, rows, failed)


_Task = tuple[PlannedTune, tuple[Harp, ...], tuple[int, ...]]


def _task(planned: PlannedTune, harps: tuple[Harp, ...]) -> _Task:
    """What the efforts go by and no more, so that the row is found again when words change."""
    octaves = OCTAVES if planned.octaves is None else (planned.octaves,)
    bare = PlannedTune(
        name="",
        tune=planned.tune,
        player=planned.player,
        semitones=planned.semitones,
        voice=planned.voice,
        tempo=planned.tempo,
    )
    return bare, harps, octaves


def _worked(task: _Task) -> bytes:
    """One row, as bytes."""
    planned, harps, octaves = task
    tune = planned.tune
    if planned.voice:
        tune = replace(tune, voices=(tune.voices[planned.voice],))
    table = efforts(
        [transposed(tune, semitones=planned.semitones)],
        planned.player,
        harps,
        octaves,
        quarters_per_minute=planned.tempo,
        workers=1,
    )
    figures = {
        name: getattr(table, name).astype(dtype).tobytes().hex()
        for name, dtype in zip(_FIGURES, _DTYPES, strict=True)
    }
    content = {"octaves": octaves, "refused": table.refused.get(0, ""), **figures}
    return zlib.compress(json.dumps(content).encode())


def _row(content: bytes, planned: PlannedTune, harps: tuple[Harp, ...]) -> EffortTable | None:
    """The row again; None for bytes that are damaged."""
    try:
        values = json.loads(zlib.decompress(content))
        octaves = tuple(values["octaves"])
        shape = 1, len(harps), len(octaves)
        figures = [
            np.frombuffer(bytes.fromhex(values[name]), dtype).reshape(shape)
            for name, dtype in zip(_FIGURES, _DTYPES, strict=True)
        ]
        refused = {0: str(values["refused"])} if values["refused"] else {}
    except (zlib.error, ValueError, LookupError, TypeError):
        return None
    missing, bends, overblows, per_note, preference = figures
    moves = tuple((octave, 0) for octave in octaves)
    return EffortTable(
        (planned.tune,), harps, moves, missing, bends, overblows, per_note, preference, refused
    )


def _joined(
    tunes: Sequence[PlannedTune],
    harps: tuple[Harp, ...],
    rows: dict[int, bytes],
    failed: dict[int, str],
) -> EffortTable:
    """One table of all rows; moves that a tune is not allowed count as not there."""
    found = {place: _row(content, tunes[place], harps) for place, content in rows.items()}
    moves = tuple(dict.fromkeys(move for row in found.values() if row for move in row.moves))
    moves = tuple(sorted(moves, key=lambda move: (abs(move[0]), move[0]))) or ((0, 0),)
    shape = len(tunes), len(harps), len(moves)
    joined = {
        name: np.full(shape, -1 if name == "missing" else 0, dtype)
        for name, dtype in zip(_FIGURES, _DTYPES, strict=True)
    }
    refused = dict(failed)
    for place, row in found.items():
        assert row is not None
        if row.refused:
            refused[place] = row.refused[0]
        for at, move in enumerate(row.moves):
            for name, figures in joined.items():
                figures[place, :, moves.index(move)] = getattr(row, name)[0, :, at]
    return EffortTable(
        tuple(planned.tune for planned in tunes),
        harps,
        moves,
        joined["missing"],
        joined["bends"],
        joined["overblows"],
        joined["per_note"],
        joined["preference"],
        refused,
    )
