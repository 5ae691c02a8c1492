"""The live reed meter: sound from a page goes in, readings come out.

A `Meter` is one listening: it holds the room's `ReedListener` and what it is aimed at, knows
nothing of sockets, and is used by one thread at a time.

What is kept is never the reading that stands on the screen at some moment: it is the whole tone
from its beginning to its end, measured as in a recording (docs/reed-measuring.md).

Public: `Meter`, `Aim`, `Aimed`, `Reading`, `aim_of`, `measurement_of`, `what_words`.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from math import log2
from typing import Literal

import numpy as np
from pydantic import BaseModel, Field

from reedwright.harp.layout import note_name
from reedwright.harp.model import Breath, Reed
from reedwright.harp.naming import frequency, spell
from reedwright.harp.written import harp_text
from reedwright.page.content import signs_in_print
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.web.bench.asking import Wrong
from reedwright.web.bench.planning import TargetsAsked, tuned
from reedwright.workshop.history.comparing import latest
from reedwright.workshop.measuring.listening import LiveTone, ReedListener
from reedwright.workshop.measuring.model import Measurement, NamedTone, Tone
from reedwright.workshop.measuring.naming import name_reeds
from reedwright.workshop.measuring.naming_pairs import name_pair
from reedwright.workshop.measuring.nearness import FARTHEST, cents_between, places
from reedwright.workshop.measuring.partials import Array32, Stretch
from reedwright.workshop.measuring.pitch import phase_course, pitch_of
from reedwright.workshop.measuring.pooling import measure_reeds
from reedwright.workshop.measuring.remarks import UNSTEADY, reed_words
from reedwright.workshop.targets.beats import beats_of
from reedwright.workshop.targets.model import Targets

MOST_TONES = 400  # kept in mind: twenty harps' reeds
STEADY_OVER = 0.5  # seconds of sound that steadiness is told from
STEADY_BY = 4  # partials
SETTLED = 0.15  # seconds from a reed's first breath until it is on its pitch
LAG = 0.2  # seconds by which the listener knows later than it hears that a reed has ended
WIDE = 100.0  # Hz: half of the band about a partial; more lets in noise only


class Aimed(TargetsAsked):
    """What is listened for, as the page says it.

    `hole` 0: any reed, the meter names it. `played`: against the targets as played, not at the
    bench.
    """

    hole: int = Field(0, ge=0, le=24)
    breath: Literal["blow", "draw"] = "blow"
    played: bool = False


@dataclass(frozen=True, slots=True)
class Aim:
    """`reed` is None where the meter is to name it. `before`: Hz of reeds as last measured.
    `words`: the harp as `parse_harp` reads it."""

    targets: Targets
    words: str
    reed: Reed | None = None
    at_bench: bool = True
    before: dict[Reed, float] | None = None


def aim_of(shelf: Shelf, asked: Aimed) -> tuple[Aim | None, Wrong]:
    """What to listen for; None where something is wrong with it."""
    found = tuned(shelf, asked)
    if found.targets is None:
        return None, found.wrong
    reed = Reed(asked.hole, Breath(asked.breath)) if asked.hole else None
    if asked.hole > found.targets.harp.tuning.holes:
        found.wrong["hole"] = f"This harp has {found.targets.harp.tuning.holes} holes."
        return None, found.wrong
    if found.own is None:
        words, before = harp_text(found.targets.harp), None
    else:
        words, before = found.own.history.harp_now, latest(found.own.history, sure=True)
    return Aim(found.targets, words, reed, not asked.played, before), found.wrong


class Reading(BaseModel):
    """What sounds now. Hz and cents; `seconds` that it is held; `level` in dBFS.

    `cents` from the target of `hole` and `breath`, None where no reed of the harp is near.
    `upper_...` of the higher of two reeds that sound together, with their `beats` a second and
    what these would be by the targets; `wander`: how far the pitch of one reed moves, cents
    (standard deviation over the last half second), None where it is not held so long.
    """

    hz: float
    uncertainty: float
    cents: float | None = None
    note: str = ""
    hole: int = 0
    breath: str = ""
    target_hz: float | None = None
    upper_hz: float | None = None
    upper_cents: float | None = None
    upper_note: str = ""
    upper_hole: int = 0
    upper_breath: str = ""
    beats: float | None = None
    beats_uncertainty: float | None = None
    beats_wanted: float | None = None
    level: float
    seconds: float
    wander: float | None = None
    words: str


class Meter:
    """One listening. `rate`: samples a second of the page's sound. Raises `ReedwrightError` for a
    rate that reeds can't be measured at."""

    def __init__(self, rate: int, aim: Aim) -> None:
        self.rate, self.aim = rate, aim
        self.tones: deque[Tone] = deque(maxlen=MOST_TONES)
        self.new: list[Tone] = []
        self._listener = ReedListener(rate)
        self._recent = np.zeros(0, dtype=np.float32)

    @property
    def heard(self) -> float:
        """Seconds listened to since the meter began, or began anew."""
        return self._listener.seconds

    def anew(self) -> None:
        """Begin again with the sound, as where some of it was lost; tones that are whole stay."""
        self._listener = ReedListener(self.rate)
        self._recent = self._recent[:0]

    def take(self, block: Array32) -> Reading | None:
        """Take in sound of shape (frames,); what sounds now. `new` has the tones that ended."""
        self.new = list(self._listener.feed(block))
        self.tones.extend(self.new)
        self._recent = np.concatenate([self._recent, block])[
            -round((STEADY_OVER + LAG) * self.rate) :
        ]
        live = self._listener.now()
        return None if live is None else self._read(live)

    def end(self) -> None:
        """No more sound comes: `new` has what was still open."""
        self.new = list(self._listener.finish())
        self.tones.extend(self.new)
        self._listener = ReedListener(self.rate)

    def _read(self, live: LiveTone) -> Reading:
        reeds = self._named(live)
        lower, upper = (*reeds, None)[:2]
        target = None if lower is None else self._hz(lower)
        two = live.upper_hz > 0
        over = self._hz(upper) if two and upper is not None else None
        read = Reading(
            hz=live.hz,
            uncertainty=live.uncertainty,
            cents=None if target is None else cents_between(live.hz, target),
            note=self._note(live.hz, lower),
            hole=lower.hole if lower else 0,
            breath=lower.breath.value if lower else "",
            target_hz=target,
            upper_hz=live.upper_hz if two else None,
            upper_cents=cents_between(live.upper_hz, over) if over else None,
            upper_note=self._note(live.upper_hz, upper) if two else "",
            upper_hole=upper.hole if two and upper else 0,
            upper_breath=upper.breath.value if two and upper else "",
            beats=live.beats.rate if live.beats else None,
            beats_uncertainty=live.beats.uncertainty if live.beats else None,
            beats_wanted=self._wanted(live, lower, upper),
            level=live.level,
            seconds=live.seconds,
            wander=None if two else self._wander(live),
            words="",
        )
        return read.model_copy(update={"words": _words(read)})

    def _named(self, live: LiveTone) -> tuple[Reed | None, ...]:
        """The reed or the two reeds that sound; of one reed the one that is aimed at, if any."""
        if live.upper_hz <= 0 and self.aim.reed is not None:
            return (self.aim.reed,)
        if live.upper_hz <= 0:
            return (self._nearest(live.hz),)
        among = places(self.aim.targets, self.aim.at_bench, None, self.aim.before)
        named = name_pair(_tone(live), among, 0.0, {})
        if named.reed is not None:
            return named.reed, named.upper
        # Reeds of two harps, such as one beside another that it is tuned by.
        return self._nearest(live.hz), self._nearest(live.upper_hz)

    def _nearest(self, hz: float) -> Reed | None:
        """Of reeds that are as near the lowest hole: a unison is told apart by the player alone."""
        offs = [
            (abs(cents_between(hz, self._hz(target.reed))), target.reed)
            for target in self.aim.targets.reeds
        ]
        off, reed = min(offs)
        return reed if off <= FARTHEST else None

    def _hz(self, reed: Reed) -> float:
        target = self.aim.targets.of(reed)
        return target.bench_hz if self.aim.at_bench else target.hz

    def _note(self, hz: float, reed: Reed | None) -> str:
        """The reed's note, or the nearest in equal temperament where it is no reed's."""
        harp = self.aim.targets.harp
        if reed is not None:
            return signs_in_print(note_name(self.aim.targets.of(reed).midi, harp))
        lowest = frequency(0, self.aim.targets.wishes.a4)
        midi = round(12 * log2(hz / lowest))
        return signs_in_print(spell(min(127, max(0, midi)), harp.key))

    def _wanted(self, live: LiveTone, lower: Reed | None, upper: Reed | None) -> float | None:
        """How fast the two would beat if both were on their targets."""
        if live.beats is None or lower is None or upper is None:
            return None
        if lower == upper or lower.breath is not upper.breath:
            return None
        found = beats_of(self.aim.targets, lower, upper)
        return abs(found.bench_rate) if self.aim.at_bench else found.beats

    def _wander(self, live: LiveTone) -> float | None:
        if live.seconds < STEADY_OVER + SETTLED + LAG:
            return None
        held = self._recent[: len(self._recent) - round(LAG * self.rate)]
        stretch = Stretch(held.astype(np.float64), self.rate)
        count = max(1, min(STEADY_BY, int(0.9 * stretch.top / live.hz)))
        half = min(0.45 * live.hz, WIDE)
        partials = [(k, half) for k in range(1, count + 1)]
        edge = 0.02 * stretch.seconds
        course = phase_course(stretch, live.hz, edge, stretch.seconds - edge, partials)
        return pitch_of(course).wander


def _words(read: Reading) -> str:
    """The reading as it is said: `4 draw, A4: 13.0 cents sharp; steady`."""
    which = f"{read.hole} {read.breath}, " if read.hole else ""
    said = [f"{which}{read.note}: {_cents_words(read.cents, read.hz)}"]
    if read.upper_hz is not None:
        other = f"{read.upper_hole} {read.upper_breath}, " if read.upper_hole else ""
        said.append(
            f"with {other}{read.upper_note}: {_cents_words(read.upper_cents, read.upper_hz)}"
        )
        if read.beats is not None:
            wanted = (
                "" if read.beats_wanted is None else f", {read.beats_wanted:.1f} by the targets"
            )
            said.append(f"{read.beats:.1f} beats a second{wanted}")
    elif read.wander is not None:
        said.append("unsteady" if read.wander > UNSTEADY else "steady")
    return "; ".join(said)


def _cents_words(cents: float | None, hz: float) -> str:
    if cents is None:
        return f"{hz:.1f} hertz, no reed of this harp is near"
    if abs(cents) < 0.05:
        return "on its target"
    return f"{abs(cents):.1f} cents {'sharp' if cents > 0 else 'flat'}"


def _tone(live: LiveTone) -> Tone:
    """A live reading in a tone's place, only to be named."""
    return Tone(
        0.0,
        max(0.1, live.seconds),
        live.hz,
        live.uncertainty,
        0.0,
        0.0,
        live.level,
        0.0,
        live.upper_hz,
        live.upper_uncertainty,
        live.beats,
    )


def _name(tones: Sequence[Tone], aim: Aim) -> Measurement:
    return name_reeds(tones, aim.targets, None, aim.at_bench, aim.before)


def measurement_of(tones: Sequence[Tone], aim: Aim) -> Measurement:
    """Tones as a measurement of the harp; single ones are the reed that is aimed at, if any."""
    named = _name(tones, aim)
    if aim.reed is None:
        return named
    target = aim.targets.of(aim.reed)
    hz = target.bench_hz if aim.at_bench else target.hz
    said = tuple(
        each
        if each.tone.upper_hz > 0
        else NamedTone(each.tone, aim.reed, cents_between(each.tone.hz, hz), 1.0)
        for each in named.tones
    )
    reeds = measure_reeds(said, aim.targets, aim.at_bench)
    heard = {each.reed for each in reeds}
    missing = tuple(each.reed for each in aim.targets.reeds if each.reed not in heard)
    shift = sorted(each.cents for each in reeds)[len(reeds) // 2] if reeds else 0.0
    return Measurement(aim.targets, said, reeds, missing, shift, aim.at_bench, "as said")


def what_words(measured: Measurement) -> str:
    """`4 draw`, `1 blow with 4 blow`, `20 reeds`: what a measurement is of."""
    if len(measured.reeds) > 3:
        return f"{len(measured.reeds)} reeds"
    single = [reed_words(each.reed) for each in measured.reeds]
    pairs = [
        f"{reed_words(each.reed)} with {reed_words(each.upper)}"
        for each in measured.tones
        if each.reed is not None and each.upper is not None
    ]
    return ", ".join([*single, *pairs])
