"""What a pack holds to hear: the tune at speed and slowed down, and as MIDI."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from reedwright.pack.settings import PackSettings
from reedwright.sound.events import Timeline
from reedwright.sound.midi import write_midi
from reedwright.sound.rendering import Wanted, render_tracks
from reedwright.sound.settings import SoundSettings
from reedwright.sound.timing import plan
from reedwright.tab.arrangement import Arrangement

FULL_SPEED = 100  # percent


def write_sound(
    arrangement: Arrangement,
    settings: PackSettings,
    folder: Path,
    progress: Callable[[float, str], None],
) -> dict[str, str]:
    """Write them into `folder`, named for it; returns what each is, by file name."""
    name = folder.name
    speeds = (FULL_SPEED, *(speed for speed in settings.speeds if speed != FULL_SPEED))
    tracks = {_track_name(name, speed): speed for speed in speeds}
    infos = render_tracks(
        arrangement,
        [Wanted(speed / FULL_SPEED, folder / file) for file, speed in tracks.items()],
        SoundSettings(tempo=settings.tempo, lilt=settings.lilt, count_in=settings.count_in),
        lambda share: progress(share, "playing the tune"),
    )
    return {file: _what(speed) for file, speed in tracks.items()} | _write_midi_files(
        arrangement, infos[0].timeline, settings, folder
    )


def write_midi_alone(
    arrangement: Arrangement, settings: PackSettings, folder: Path
) -> dict[str, str]:
    """The same without the sound: for a pack whose sound is a take."""
    timeline = plan(arrangement, settings.tempo, lilt=settings.lilt, count_in=settings.count_in)
    return _write_midi_files(arrangement, timeline, settings, folder)


def _write_midi_files(
    arrangement: Arrangement, timeline: Timeline, settings: PackSettings, folder: Path
) -> dict[str, str]:
    name = folder.name
    plain, with_cuts = f"{name}.mid", f"{name}-with-cuts.mid"
    notes_alone = plan(arrangement.as_written(), settings.tempo, lilt=settings.lilt)
    (folder / plain).write_bytes(write_midi(notes_alone))
    (folder / with_cuts).write_bytes(write_midi(timeline, cuts=True))
    return {
        plain: "MIDI, the notes alone",
        with_cuts: "MIDI, with cuts and rolls",
    }


def _track_name(name: str, speed: int) -> str:
    if speed == FULL_SPEED:
        return f"{name}.mp3"
    return f"{name}-{'slow' if speed < FULL_SPEED else 'fast'}-{speed}.mp3"


def _what(speed: int) -> str:
    return "sound at full tempo" if speed == FULL_SPEED else f"sound at {speed} % of the tempo"
