"""Practice tracks of a take: from a recording to finished MP3 files, in one call.

Public: `write_tracks`.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path
from typing import NamedTuple

from reedwright.files import write_whole
from reedwright.sound.finishing import write_track
from reedwright.sound.mp3 import TrackTags
from reedwright.sound.recording.model import Recording
from reedwright.sound.rumble import corner_for
from reedwright.sound.spool import Spool
from reedwright.sound.stretching import stretch
from reedwright.takes.model import Following
from reedwright.takes.practice.cutting import Source, cut_track
from reedwright.takes.practice.model import Track, TrackKind
from reedwright.takes.practice.planning import Names, is_sure, planned
from reedwright.takes.practice.preparing import RATE, cleaned, decoded
from reedwright.takes.practice.settings import FULL_PERCENT, PracticeSettings
from reedwright.takes.practice.times import times_json
from reedwright.takes.practice.trimming import Trim, trimmed

Progress = Callable[[float, str], None]

_SHARE_READ, _SHARE_CLEAN = 0.08, 0.12  # of the work that is then done, about
_AROUND = 1.0  # seconds of the take that the stretching hears around a cut


def write_tracks(
    recording: Recording,
    following: Following | None,
    settings: PracticeSettings,
    folder: Path,
    name: str,
    progress: Progress = lambda share, doing: None,
) -> dict[str, str]:
    """Write the tracks into `folder`, files named for `name`; returns what each is.

    Without a following, or one that is not sure (`planning.LEAST_SURE`), only the whole take at
    each speed. With one also `name-times.json`, which says when each note is heard in each
    track. Whatever stops it (also an exception from `progress`, or Ctrl-C) leaves no half
    file. Raises `ReedwrightError` for what the user can put right.
    """
    with ExitStack() as open_files:
        progress(0.0, "reading the recording")
        take = decoded(recording, folder, lambda share: progress(_SHARE_READ * share, "reading"))
        with take.sound:
            # Of a following that is not sure nothing is believed, not even where the tune begins.
            sure = following if is_sure(following) else None
            trim = trimmed(take.levels, sure)
            title = recording.path.stem if following is None else following.arrangement.tune.title
            tracks = planned(following, trim, settings, Names(name, title), RATE)
            corner = corner_for(_lowest(sure)) if settings.rumble is None else settings.rumble

            def clean_share(share: float) -> None:
                progress(_SHARE_READ + (_SHARE_CLEAN - _SHARE_READ) * share, "cleaning")

            clean = open_files.enter_context(cleaned(take, trim, corner, folder, clean_share))
        tags = _tags(tracks, following, settings, title)

        def made_share(share: float) -> None:
            progress(_SHARE_CLEAN + (1 - _SHARE_CLEAN) * share, "making the tracks")

        _write_all(tracks, clean, trim, settings.retune, tags, folder, made_share)
    files = {track.file: track.what for track in tracks}
    if sure is not None:
        times = f"{name}-times.json"
        write_whole(folder / times, times_json(sure, tracks))
        files[times] = "when each note and bar is heard in each track"
    progress(1.0, "done")
    return files


def _lowest(following: Following | None) -> float | None:
    """The lowest pitch heard in the tune in Hz; None where none is known."""
    if following is None:
        return None
    heard = [following.heard.notes[k].hz for note in following.notes for k in note.heard]
    return min((hz for hz in heard if hz > 0), default=None)


def _write_all(
    tracks: Sequence[Track],
    clean: Spool,
    trim: Trim,
    retune: float,
    tags: Mapping[str, TrackTags],
    folder: Path,
    progress: Callable[[float], None],
) -> None:
    """Source by source: stretched once, cut into its tracks; each is coded in a second thread."""
    whole = sum(track.duration for track in tracks)
    done = 0.0
    with _Coder(folder, tags) as coder:
        for batch in _batches(tracks, trim):
            seconds = sum(track.duration for track in batch.tracks)

            def share(part: float, done: float = done, seconds: float = seconds) -> None:
                progress((done + seconds * part) / whole)

            source = _source(batch, clean, trim, retune, folder, share)
            coder.code([(track, _sound_of(track, source, folder)) for track in batch.tracks])
            done += seconds


class _Batch(NamedTuple):
    """Tracks of one speed that are cut from one stretch of the take (`region`, seconds)."""

    percent: int
    region: Trim
    tracks: list[Track]


def _batches(tracks: Sequence[Track], trim: Trim) -> Iterator[_Batch]:
    """Where the whole is wanted at a speed all is cut from it, else only what is needed is made."""
    for percent in dict.fromkeys(track.percent for track in tracks):
        of_speed = [track for track in tracks if track.percent == percent]
        if percent == FULL_PERCENT or any(track.kind is TrackKind.WHOLE for track in of_speed):
            yield _Batch(percent, trim, of_speed)
            continue
        for track in of_speed:
            start = max(trim.start, min(cut.start for cut in track.cuts) - _AROUND)
            end = min(trim.end, max(cut.end for cut in track.cuts) + _AROUND)
            yield _Batch(percent, Trim(start, end), [track])


def _source(
    batch: _Batch,
    clean: Spool,
    trim: Trim,
    retune: float,
    folder: Path,
    progress: Callable[[float], None],
) -> Source:
    """The stretch of the take at its speed and pitch; `clean` itself where that is it."""
    speed = batch.percent / FULL_PERCENT
    if speed == 1.0 and not retune:
        return Source(clean, trim.start, 1.0)
    first, last = (round((second - trim.start) * RATE) for second in batch.region)
    made = Spool(clean.channels, folder)
    if (first, last) == (0, len(clean)):
        stretch(clean, made, RATE, speed, retune, progress)
    else:
        with Spool(clean.channels, folder) as part:
            part.add(clean.read(first, last))
            stretch(part, made, RATE, speed, retune, progress)
    return Source(made, trim.start + first / RATE, speed)


def _sound_of(track: Track, source: Source, folder: Path) -> Spool:
    return source.sound if track.kind is TrackKind.WHOLE else cut_track(track, source, folder)


class _Stopped(Exception):
    """The work in the other thread is no longer wanted."""


class _Coder:
    """Levels and codes tracks in a second thread, at most one batch behind."""

    def __init__(self, folder: Path, tags: Mapping[str, TrackTags]) -> None:
        self._folder, self._tags = folder, tags
        self._thread = ThreadPoolExecutor(max_workers=1)
        self._waiting: list[Future[None]] = []
        self._stop = threading.Event()

    def __enter__(self) -> _Coder:
        return self

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        if error is not None:
            self._stop.set()
        try:
            if error is None:
                self._wait()
        finally:
            self._stop.set()
            self._thread.shutdown(cancel_futures=True)

    def code(self, tracks: Sequence[tuple[Track, Spool]]) -> None:
        self._wait()
        self._waiting = [self._thread.submit(self._code, *each) for each in tracks]

    def _wait(self) -> None:
        for each in self._waiting:
            each.result()

    def _code(self, track: Track, sound: Spool) -> None:
        def check() -> None:
            if self._stop.is_set():
                raise _Stopped

        write_track(sound, RATE, self._folder / track.file, self._tags[track.file], check)


def _tags(
    tracks: Sequence[Track], following: Following | None, settings: PracticeSettings, title: str
) -> dict[str, TrackTags]:
    """As in a pack: title, album, number, harp and speed; the artist is the player's name."""
    tune = None if following is None else following.arrangement.tune
    harp = "" if following is None else f"{_harp_name(following)}; "
    return {
        track.file: TrackTags(
            title=track.title,
            artist=settings.artist,
            album=settings.album or title,
            track=number,
            tracks=len(tracks),
            comment=f"{harp}{track.what}",
            composer="" if tune is None else ", ".join(tune.field_texts("C")),
            genre=settings.genre,
        )
        for number, track in enumerate(tracks, 1)
    }


def _harp_name(following: Following) -> str:
    """Nothing is claimed of the harp where the take was played in another key than the tab's."""
    if following.semitones:
        return f"tab for {following.arrangement.harp.name}, played in another key"
    return following.arrangement.harp.name
