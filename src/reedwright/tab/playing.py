"""The melody of an arrangement as it is played: what sounds after what, and for how long.

Public: `Played`, `played_notes`, `runs`, `length_of`, `span`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import NamedTuple

from reedwright.harp.model import Sounding
from reedwright.tab.arrangement import Arrangement
from reedwright.tune.unfold import unfold


class Played(NamedTuple):
    """A sounded note, ties joined, and the bars that it sounds in.

    `length` in quarter notes; `joined`: no rest before it.
    """

    bars: tuple[int, ...]
    sounding: Sounding
    length: Fraction
    joined: bool

    @property
    def bar(self) -> int:
        """The bar that it begins in."""
        return self.bars[0]


def played_notes(arrangement: Arrangement) -> list[Played]:
    """The tune as it is played, repeats and endings and all, so that every move is a real one."""
    found: list[Played] = []
    end: Fraction | None = None  # where the note before stops; None: nothing joins on to it
    for play in unfold(arrangement.tune, arrangement.voice).notes:
        note, bar = play.note, play.bar.number
        sounding = arrangement.soundings.get(note.id)
        if play.held and end is not None:
            last = found[-1]
            found[-1] = last._replace(bars=(*last.bars, bar), length=last.length + note.length)
        elif sounding is None:
            end = None  # a missing note, or the rest of one
            continue
        else:
            found.append(Played((bar,), sounding, note.length, end == play.onset))
        end = play.onset + note.length
    return found


def runs(
    played: Sequence[Played], same_run: Callable[[Played, Played], bool]
) -> list[list[Played]]:
    """Stretches of joined notes in which each neighbouring pair belongs together."""
    found: list[list[Played]] = []
    for note in played:
        if found and note.joined and same_run(found[-1][-1], note):
            found[-1].append(note)
        else:
            found.append([note])
    return found


def length_of(run: Sequence[Played]) -> Fraction:
    return sum((note.length for note in run), Fraction(0))


def span(run: Sequence[Played]) -> list[int]:
    """Every bar that the run sounds in."""
    return [bar for note in run for bar in note.bars]
