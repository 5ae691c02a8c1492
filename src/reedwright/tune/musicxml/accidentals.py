"""Which accidentals are printed: the state of a bar, by step and octave.

The rule is that of common notation: an accidental holds to the end of the bar in
its own octave; a note tied over the bar line needs none.
"""

from __future__ import annotations

from reedwright.tune.model import Key, Pitch

ACCIDENTAL_NAMES = {
    -2: "flat-flat",
    -1: "flat",
    0: "natural",
    1: "sharp",
    2: "double-sharp",
}


class Accidentals:
    """The accidentals in force as one bar is read from left to right."""

    def __init__(self, key: Key) -> None:
        self._key = key
        self._altered: dict[tuple[str, int], int] = {}

    def change_key(self, key: Key) -> None:
        self._key = key
        self._altered.clear()

    def needed(self, pitch: Pitch, explicit: bool = False, tied: bool = False) -> str | None:
        """The accidental to print at this pitch, if any, as MusicXML names it.

        `explicit`: the source wrote one here, so it is kept as a courtesy.
        """
        place = (pitch.step, pitch.octave)
        in_force = self._altered.get(place, self._key.alteration(pitch.step))
        if tied:
            return None
        if pitch.alter == in_force and not explicit and not self._doubtful(pitch):
            return None
        self._altered[place] = pitch.alter
        return ACCIDENTAL_NAMES.get(pitch.alter)

    def _doubtful(self, pitch: Pitch) -> bool:
        """Altered otherwise in another octave of this bar: a reader would wonder."""
        if (pitch.step, pitch.octave) in self._altered:
            return False
        return any(
            step == pitch.step and alter != pitch.alter
            for (step, _), alter in self._altered.items()
        )
