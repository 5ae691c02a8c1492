"""From a recording of reeds to a measurement: tones are listened to, named and pooled.

Public: `measure_recording`, `NoTones`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Reed
from reedwright.workshop.measuring.model import Measurement
from reedwright.workshop.measuring.naming import name_reeds
from reedwright.workshop.targets.model import Targets

Progress = Callable[[float, str], None]  # the share done, and what is being done


class NoTones(ReedwrightError):
    """A recording in which no held tone was found."""


def measure_recording(
    path: Path,
    targets: Targets,
    order: str | None = None,
    at_bench: bool = True,
    progress: Progress | None = None,
    before: Measurement | Mapping[Reed, float] | None = None,
    now: Targets | None = None,
) -> Measurement:
    """Every reed that a recording holds, against a harp's targets; as `name_reeds`.

    Raises `UnreadableRecording`, `NoTones`, `OrderError`.
    """
    from reedwright.workshop.measuring.listening import listen_to_reeds

    tones = listen_to_reeds(path, progress) if progress else listen_to_reeds(path)
    if not tones:
        raise NoTones(
            f"{path}: no held tone was found. Sound each reed for a second or longer, with a short "
            "silence between, close to the microphone."
        )
    return name_reeds(tones, targets, order, at_bench, before, now)
