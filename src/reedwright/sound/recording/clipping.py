"""Clipping: tops of the wave cut off flat.

Public: `ClippingWatch`.
"""

from __future__ import annotations

from reedwright.sound.hearing.model import Array32
from reedwright.sound.recording.model import Trouble


class ClippingWatch:
    """To come."""

    def add(self, sound: Array32, rate: int, start: float) -> None:
        """To come."""

    def troubles(self) -> list[Trouble]:
        """To come."""
        return []
