"""What may be wrong with a recording that can be read: found while it streams by.

Public: `Watch`. The judgements themselves stand in `quiet`, `clipping` and `noisiness`.
"""

from __future__ import annotations

from reedwright.sound.hearing.model import Array32
from reedwright.sound.recording.chunks import Chunk, Chunks
from reedwright.sound.recording.clipping import ClippingWatch
from reedwright.sound.recording.model import Trouble, TroubleKind
from reedwright.sound.recording.noisiness import NoiseWatch
from reedwright.sound.recording.places import place_in
from reedwright.sound.recording.quiet import LevelWatch

GATHERED = 1.0  # seconds looked at together
MOST_TOLD = 3  # places of one kind that are told one by one


class Watch:
    """Looks at a recording block by block; `troubles` may be asked at any time.

    Show it the sound as recorded (`blocks(..., watch=watch)` does): flat tops of clipping
    do not outlast a change of rate.
    """

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._levels = LevelWatch()
        self._clipping = ClippingWatch()
        self._noise = NoiseWatch()
        self._damage: list[Trouble] = []
        self._chunks = Chunks(GATHERED)
        self._now = 0.0

    def add(self, block: Array32, rate: int | None = None) -> None:
        """Look at the next stretch, of shape (frames, channels) or (frames,)."""
        sound = block if block.ndim == 2 else block[:, None]
        if not len(sound):
            return
        rate = rate or self._rate
        for chunk in self._chunks.add(sound, rate, self._now):
            self._look(chunk)
        self._now += len(sound) / rate

    def _look(self, chunk: Chunk) -> None:
        sound, rate, start = chunk
        self._levels.add(sound, rate)
        self._clipping.add(sound, rate, start)
        self._noise.add(sound.mean(axis=1), rate, start)

    def note(self, trouble: Trouble) -> None:
        """Take in what decoding found: a damaged stretch."""
        self._damage.append(trouble)

    def troubles(self) -> tuple[Trouble, ...]:
        """What was found so far, by kind and start; a few of each kind at most."""
        for chunk in self._chunks.rest():
            self._look(chunk)
        found = [
            *_merged(self._damage),
            *self._levels.troubles(self._now),
            *self._clipping.troubles(),
            *self._noise.troubles(),
        ]
        return tuple(found)


def _merged(damage: list[Trouble]) -> list[Trouble]:
    """Damage place by place, or in one message where there are many places."""
    if len(damage) <= MOST_TOLD:
        return damage
    places = ", ".join(place_in(each.start) for each in damage[:MOST_TOLD])
    lost = sum(each.end - each.start for each in damage)
    message = (
        f"The file is damaged in {len(damage)} places, the first at {places}; {lost:.1f} s are "
        "lost and stand as silence. Copy the file again from where it was recorded."
    )
    return [Trouble(TroubleKind.DAMAGE, damage[0].start, damage[-1].end, message)]
