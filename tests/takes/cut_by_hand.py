"""Followings of takes whose every note is known, made without any listening or aligning.

So that cutting can be judged apart from hearing: the notes of a `Timeline` are what was
played, and the following says exactly that.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from imagined_hearing import heard_of
from soundfont_takes import Played, notes_of

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.sound.events import Timeline
from reedwright.sound.timing import plan
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.takes.model import FollowedBar, FollowedNote, Following, Passage, PassageKind
from reedwright.tune.form import find_parts
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes
from reedwright.tune.unfold import Performance, unfold

TUNES = Path(__file__).parents[2] / "examples" / "tunes.abc"


def example(number: int, harp: str = "G") -> Arrangement:
    """One of the demo tunes, from 1."""
    tune = [tune for tune in read_tunes(TUNES) if isinstance(tune, Tune)][number - 1]
    return arrange(tune, make_harp(harp, "richter-raised-3-blow"), load_profile("player"))


def played(arrangement: Arrangement, before: float = 0.0) -> tuple[Timeline, list[Played]]:
    """The tune as it would be played, `before` seconds into a recording."""
    timeline = plan(arrangement, count_in=False)
    notes = [
        note._replace(start=note.start + before, end=note.end + before)
        for note in notes_of(timeline)
    ]
    return timeline, notes


def following_of(
    arrangement: Arrangement, timeline: Timeline, notes: list[Played], before: float = 0.0
) -> Following:
    """What following would say of these notes if it were never wrong."""
    heard = heard_of(notes, jitter=0.0)
    performance = unfold(arrangement.tune)
    starts = _bar_starts(performance, timeline, before)
    found: list[FollowedNote] = []
    bars: list[FollowedBar] = []
    parts = find_parts(performance)
    left = list(enumerate(heard.notes))
    for k, bar in enumerate(performance.bars):
        first = len(found)
        for note in performance.notes:
            if not bar.onset <= note.onset < bar.onset + bar.bar.length:
                continue
            if note.held:  # one note with the one before
                last = timeline.spans[note.note.id][0].end + before
                tied = found[-1].length + note.note.length
                found[-1] = replace(found[-1], end=last, length=tied)
                continue
            start, end = _span(note.note.id, note.onset, performance, timeline, before)
            mine = [i for i, each in left if start - 1e-6 <= each.start < end - 1e-3]
            left = [(i, each) for i, each in left if i not in mine]
            time = 1 + sum(each.id == note.note.id for each in found)
            found.append(
                FollowedNote(
                    note.note.id,
                    time,
                    note.note.pitch.midi,
                    note.onset,
                    note.note.length,
                    bar.bar.index,
                    start,
                    end,
                    tuple(mine),
                )
            )
        part, part_time = _part(parts, float(bar.onset))
        bars.append(
            FollowedBar(
                bar.bar.index,
                bar.bar.number,
                part,
                part_time,
                starts[k],
                starts[k + 1],
                bar.onset,
                bar.bar.length,
                first,
                len(found),
            )
        )
    return Following(
        arrangement,
        heard,
        tuple(found),
        tuple(bars),
        (),
        (Passage(PassageKind.TUNE, 0.0, heard.duration),),
        0,
        (),
        1.0,
    )


def _bar_starts(performance: Performance, timeline: Timeline, before: float) -> list[float]:
    """When each bar starts, and the last one ends; for tunes of one tempo."""
    quarter = 60 / timeline.tempi[0].quarters_per_minute / timeline.speed
    edges = [*(bar.onset for bar in performance.bars), performance.length]
    return [before + timeline.tune_start + float(edge) * quarter for edge in edges]


def _span(
    id_: str, onset: Fraction, performance: Performance, timeline: Timeline, before: float
) -> tuple[float, float]:
    onsets = [n.onset for n in performance.notes if n.note.id == id_ and not n.held]
    span = timeline.spans[id_][onsets.index(onset)]
    return before + span.start, before + span.end


def _part(parts: tuple[object, ...], onset: float) -> tuple[str, int]:
    times: dict[str, int] = {}
    for part in parts:
        times[part.letter] = times.get(part.letter, 0) + 1
        if part.onset - 1e-6 <= onset < part.onset + part.length - 1e-6:
            return part.letter, times[part.letter]
    return "", 0
