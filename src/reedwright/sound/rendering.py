"""Finished tracks: from an arrangement to MP3 files, in one call.

Public: `render_track`, `render_tracks`, `Wanted`, `TrackInfo`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple

from reedwright.sound.events import Timeline
from reedwright.sound.mp3 import TrackTags, write_mp3
from reedwright.sound.settings import USUAL, SoundSettings
from reedwright.sound.timing import plan
from reedwright.tab.arrangement import Arrangement

Progress = Callable[[float], None]

_CODERS = 2  # threads that code
_SHARE_OF_VOICE, _SHARE_OF_LEVEL = 0.45, 0.6  # of a track's work that is then done


class TrackInfo(NamedTuple):
    """A finished track: seconds, LUFS and dBTP (before coding), and what is heard when."""

    path: Path
    duration: float
    loudness: float
    peak: float
    timeline: Timeline


class Wanted(NamedTuple):
    """A track to make: `speed` 1 is the full tempo."""

    speed: float
    path: Path


def render_track(
    arrangement: Arrangement,
    speed: float,
    path: Path,
    settings: SoundSettings = USUAL,
    progress: Progress = lambda share: None,
) -> TrackInfo:
    """Make one MP3. `progress` is told the share done, 0 to 1.

    Whatever stops it (also an exception from `progress`, or Ctrl-C) leaves no half file.
    """
    return render_tracks(arrangement, [Wanted(speed, path)], settings, progress)[0]


def render_tracks(
    arrangement: Arrangement,
    wanted: Sequence[Wanted],
    settings: SoundSettings = USUAL,
    progress: Progress = lambda share: None,
) -> list[TrackInfo]:
    """Make several MP3s; while one is coded in another thread the next is synthesised.

    They are numbered in their order as tracks of one album.
    """
    infos: dict[int, TrackInfo] = {}
    coding: list[Future[None]] = []
    # The longest first: its coding takes longest, and the rest is done beside it.
    order = sorted(range(len(wanted)), key=lambda k: wanted[k].speed)
    with ThreadPoolExecutor(max_workers=_CODERS) as coders:
        for done, k in enumerate(order):
            speed, path = wanted[k]

            def share(of_track: float, done: int = done) -> None:
                progress((done + of_track) / len(wanted))

            tags = _tags(arrangement, speed, settings, k + 1, len(wanted))
            infos[k], code = _synthesised(arrangement, speed, path, settings, tags, share)
            if done >= _CODERS:
                coding[done - _CODERS].result()  # so that few tracks are in memory at once
            coding.append(coders.submit(code))
        for each in coding:
            each.result()
    progress(1.0)
    return [infos[k] for k in range(len(wanted))]


def _synthesised(
    arrangement: Arrangement,
    speed: float,
    path: Path,
    settings: SoundSettings,
    tags: TrackTags,
    progress: Progress,
) -> tuple[TrackInfo, Callable[[], None]]:
    """A track in memory, and the work of coding it."""
    from reedwright.sound.loudness import levelled
    from reedwright.sound.voice import RATE, render

    timeline = plan(
        arrangement, settings.tempo, speed, settings.lilt, settings.count_in, settings.cuts
    )
    sound = render(timeline, progress=lambda share: progress(_SHARE_OF_VOICE * share))
    progress(_SHARE_OF_VOICE)
    sound, levels = levelled(sound, RATE)
    progress(_SHARE_OF_LEVEL)
    info = TrackInfo(path, len(sound) / RATE, levels.loudness, levels.peak, timeline)
    return info, lambda: write_mp3(sound, RATE, path, tags)


def _tags(
    arrangement: Arrangement, speed: float, settings: SoundSettings, track: int, tracks: int
) -> TrackTags:
    tune = arrangement.tune
    percent = round(100 * speed)
    how = "full tempo" if percent == 100 else f"{percent} % of full tempo"
    return TrackTags(
        title=tune.title if percent == 100 else f"{tune.title} ({percent} %)",
        artist=settings.artist,
        album=settings.album or tune.title,
        track=track,
        tracks=tracks,
        comment=f"{arrangement.harp.name}; {how}",
        composer=", ".join(tune.field_texts("C")),
        genre=settings.genre,
    )
