"""The voice: a timeline becomes stereo sound.

Public: `render`, `RATE`, `Parts`. Every note is synthesised at the tempo asked for; a slow
track is played slowly and not stretched.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from reedwright.sound.events import Click, Timeline
from reedwright.sound.reed import ALL, RATE, Parts, render_note
from reedwright.sound.room import in_room

__all__ = ["RATE", "Parts", "render"]

Array32 = npt.NDArray[np.float32]
Progress = Callable[[float], None]

LEVEL = 0.16  # of a note at full velocity; loudness is set afterwards
CLICK_LEVEL, STRONG_CLICK_LEVEL = 0.22, 0.32
CLICK_HERTZ, STRONG_CLICK_HERTZ = 1150.0, 1550.0  # a woodblock's, about
CLICK_SECONDS = 0.018  # until it has sunk to a third


def render(
    timeline: Timeline, parts: Parts = ALL, progress: Progress = lambda share: None
) -> Array32:
    """Sound of shape (frames, 2), exactly `timeline.duration` long (to the frame).

    Not yet brought to a loudness. The same timeline gives the same samples. `progress`
    is told the share done, 0 to 1; an exception raised in it ends the work.
    """
    frames = round(timeline.duration * RATE)
    dry = np.zeros(frames, dtype=np.float32)
    for k, note in enumerate(timeline.notes):
        if k % 64 == 0:
            progress(k / len(timeline.notes))
        _add(dry, LEVEL * render_note(note, k + 1, parts), note.span.start)
    for click in timeline.clicks:
        _add(dry, _click(click), click.time)
    if not parts.room:
        return np.repeat(dry[:, None], 2, axis=1)
    return in_room(dry, RATE)


def _add(dry: Array32, sound: Array32, at: float) -> None:
    start = round(at * RATE)
    room = len(dry) - start
    dry[start : start + len(sound)] += sound[:room]


def _click(click: Click) -> Array32:
    hertz = STRONG_CLICK_HERTZ if click.strong else CLICK_HERTZ
    level = STRONG_CLICK_LEVEL if click.strong else CLICK_LEVEL
    time = np.arange(int(0.12 * RATE)) / RATE
    wave = np.sin(2 * np.pi * hertz * time) + 0.4 * np.sin(2 * np.pi * 2.57 * hertz * time)
    wave *= level * np.exp(-time / CLICK_SECONDS) * np.minimum(time / 0.001, 1)
    return wave.astype(np.float32)
