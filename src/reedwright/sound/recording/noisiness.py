"""Heavy noise.

Public: `NoiseWatch`.
"""

from __future__ import annotations

from reedwright.sound.hearing.model import Array32
from reedwright.sound.recording.model import Trouble


class NoiseWatch:
    """To come."""

    def add(self, sound: Array32, rate: int, start: float) -> None:
        """To come."""

    def troubles(self) -> list[Trouble]:
        """To come."""
        return []
