"""Loops to practise with: the passages of the practice plan as sound, at each of its speeds."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from reedwright.pack.settings import PackSettings
from reedwright.sound.excerpt import excerpt, loop_tempo
from reedwright.sound.rendering import Wanted, render_tracks
from reedwright.sound.settings import SoundSettings
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.difficulty.practice import FULL, Passage, Step, practice_plan


def write_loops(
    arrangement: Arrangement,
    settings: PackSettings,
    folder: Path,
    progress: Callable[[float, str], None] = lambda share, doing: None,
) -> dict[str, str]:
    """Write an MP3 into `folder` for each passage and speed of the practice plan.

    Named for the folder, the bars and the speed. Each is counted in by one bar and then
    goes round as often as the plan asks for. Returns what each is, by file name; nothing where
    the plan has no passage.
    """
    passages = practice_plan(arrangement).passages
    files: dict[str, str] = {}
    for order, passage in enumerate(passages):

        def share(done: float, order: int = order) -> None:
            progress((order + done) / len(passages), "playing the loops")

        rounds = max(step.rounds for step in passage.steps)
        loop = excerpt(arrangement, passage.first_index, passage.last_index, rounds)
        names = {_name(folder.name, passage, step): step for step in passage.steps}
        render_tracks(
            loop,
            [Wanted(step.percent / FULL, folder / name) for name, step in names.items()],
            SoundSettings(
                tempo=loop_tempo(arrangement, loop, settings.tempo),
                lilt=settings.lilt,
                album=f"{arrangement.tune.title}: loops",
            ),
            share,
        )
        for name, step in names.items():
            files[name] = f"loop of {passage.name}, {_speed(step)}"
    return files


def _name(tune: str, passage: Passage, step: Step) -> str:
    """`the-reedmakers-latch-loop-bars-15-16-at-50.mp3`."""
    bars = (
        f"bar-{passage.first}"
        if passage.first == passage.last
        else f"bars-{passage.first}-{passage.last}"
    )
    return f"{tune}-loop-{bars}-at-{step.percent}.mp3"


def _speed(step: Step) -> str:
    return "full tempo" if step.percent == FULL else f"{step.percent} % of the tempo"
