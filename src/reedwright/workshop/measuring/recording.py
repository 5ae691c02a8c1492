"""From a recording of reeds to a measurement: tones are listened to, named and pooled.

Public: `measure_recording`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.harp.model import Reed
from reedwright.workshop.measuring.model import Measurement
from reedwright.workshop.measuring.naming import name_reeds
from reedwright.workshop.measuring.orders import asked_orders
from reedwright.workshop.targets.model import Targets

if TYPE_CHECKING:
    from reedwright.sound.recording.model import Trouble

Progress = Callable[[float, str], None]  # the share done, and what is being done


def measure_recording(
    path: Path,
    targets: Targets,
    order: str | None = None,
    at_bench: bool = True,
    progress: Progress | None = None,
    before: Measurement | Mapping[Reed, float] | None = None,
    now: Targets | None = None,
    trouble: Callable[[Trouble], None] | None = None,
) -> Measurement:
    """Every reed that a recording holds, against a harp's targets; as `name_reeds`.

    What may be wrong with the recording is told to `trouble`. Raises `UnreadableRecording`,
    `NoReedHeard`, `OrderError`.
    """
    from reedwright.workshop.measuring.listening import listen_to_reeds

    if order:
        asked_orders(order, targets.harp)  # what is not understood is refused before the work
    tones = listen_to_reeds(path, progress, trouble=trouble)
    return name_reeds(tones, targets, order, at_bench, before, now)
