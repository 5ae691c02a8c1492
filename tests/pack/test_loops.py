"""Loops in a pack: a file for each passage and speed, with tags, loudness and rounds in time."""

from __future__ import annotations

import subprocess
from pathlib import Path

import numpy as np
import pytest
from mutagen.mp3 import MP3

from reedwright.harp.making import make_harp
from reedwright.pack.loops import write_loops
from reedwright.pack.settings import PackSettings
from reedwright.player.loading import load_profile
from reedwright.sound.excerpt import loop_timeline
from reedwright.sound.loudness import TARGET_LUFS
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.difficulty.practice import practice_plan
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

# One bar of quick leaps and turns among bars of long neighbours.
ONE_HARD_BAR = (
    "X:1\nT:One Hard Bar\nM:2/4\nL:1/8\nQ:1/4=112\nK:C\nc2e2|g2e2|c/g/d/a/ c/g/d/a/|g2e2|c4|]\n"
)


@pytest.fixture(scope="module")
def arrangement() -> Arrangement:
    (tune,) = read_abc(ONE_HARD_BAR)
    assert isinstance(tune, Tune)
    return arrange(tune, make_harp("C"), load_profile("player"))


@pytest.fixture(scope="module")
def made(arrangement: Arrangement, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict]:
    folder = tmp_path_factory.mktemp("packs") / "one-hard-bar"
    folder.mkdir()
    done: list[float] = []
    files = write_loops(arrangement, PackSettings(), folder, lambda share, _: done.append(share))
    assert done == sorted(done)
    assert done[-1] == 1.0
    return folder, files


def test_each_speed_of_each_passage_has_a_file_named_for_it(
    made: tuple[Path, dict], arrangement: Arrangement
) -> None:
    folder, files = made
    (passage,) = practice_plan(arrangement).passages
    assert (passage.first, passage.last) == (3, 3)
    names = [f"one-hard-bar-loop-bar-3-at-{step.percent}.mp3" for step in passage.steps]
    assert list(files) == names
    assert sorted(path.name for path in folder.iterdir()) == sorted(names)
    assert files[names[-1]] == "loop of bar 3, full tempo"


def test_loops_are_tagged_and_as_long_as_count_in_and_rounds(
    made: tuple[Path, dict], arrangement: Arrangement
) -> None:
    folder, files = made
    (passage,) = practice_plan(arrangement).passages
    for name, step in zip(files, passage.steps, strict=True):
        file = MP3(folder / name)
        title = "One Hard Bar, bar 3"
        wanted = title if step.percent == 100 else f"{title} ({step.percent} %)"
        assert file.tags is not None
        assert file.tags["TIT2"].text == [wanted]
        assert file.tags["TALB"].text == ["One Hard Bar: loops"]
        timeline = loop_timeline(arrangement, 2, 2, step.rounds, speed=step.percent / 100)
        bar = 2 * 60 / 112 / (step.percent / 100)
        playing = (1 + step.rounds) * bar  # the count-in and the rounds
        assert timeline.notes[-1].span.end - timeline.clicks[0].time == pytest.approx(
            playing, abs=0.03
        )
        assert file.info.length == pytest.approx(timeline.duration, abs=0.06)


def test_loops_are_as_loud_as_tracks_and_their_rounds_come_in_time(
    made: tuple[Path, dict], arrangement: Arrangement
) -> None:
    import pyloudnorm

    from reedwright.sound.voice import RATE

    folder, files = made
    (passage,) = practice_plan(arrangement).passages
    sound = decoded(folder / next(iter(files)))
    loudness = pyloudnorm.Meter(RATE).integrated_loudness(sound)
    assert loudness == pytest.approx(TARGET_LUFS, abs=0.3)
    # The rounds are the same music: shifted by a round the sound's swell is like itself.
    step = passage.steps[0]
    timeline = loop_timeline(arrangement, 2, 2, step.rounds, speed=step.percent / 100)
    round_frames = step.round_seconds * RATE
    start = int((timeline.tune_start + step.round_seconds / 2) * RATE)
    window = int(round_frames)
    swell = np.abs(sound[:, 0])
    swell = np.convolve(swell, np.ones(441) / 441, "same")
    first = swell[start : start + window]
    lags = range(-2205, 2206, 63)
    likeness = [
        float(np.corrcoef(first, swell[start + round(round_frames) + lag :][:window])[0, 1])
        for lag in lags
    ]
    best = lags[int(np.argmax(likeness))]
    assert abs(best) <= 126  # 3 ms
    assert max(likeness) > 0.95


def decoded(path: Path) -> np.ndarray:
    done = subprocess.run(
        ["ffmpeg", "-v", "error", "-i", str(path), "-f", "f32le", "-"],
        capture_output=True,
        check=True,
    )
    return np.frombuffer(done.stdout, "<f4").reshape(-1, 2).astype(np.float64)
