"""What a report on a take holds: frozen values, each of which says its units.

Times are seconds from the start of the recording, pitches MIDI notes, `cents` are above
where the harp's temperament has the note at the take's own pitch. Late is positive.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from reedwright.harp.model import Breath, Harp, Sounding
from reedwright.takes.model import Following
from reedwright.workshop.targets.temperaments import ReedTemperament


class Verdict(StrEnum):
    """What became of a written note."""

    PLAYED = "played"
    MISSED = "missed"
    WRONG = "wrong"


@dataclass(frozen=True, slots=True)
class Place:
    """Where in the take: the printed bar, the notated beat (from 1), the part and which time
    through it (part empty and 0 where the tune has no parts)."""

    bar: int
    beat: Fraction
    part: str = ""
    part_time: int = 0


@dataclass(frozen=True, slots=True)
class JudgedNote:
    """One written note at one of the times that the take comes to it.

    `index` is that in `Following.notes`. `sounding` is how the tab has it on the harp that
    was played (None where the harp lacks it), `name` what it is called. `heard_midi` is the
    nearest note to what was heard, `cents` how far that lies off the written note (off
    `heard_midi` where it is wrong); both None where it was missed. `instead` says how a
    wrong note was probably made.
    """

    index: int
    id: str
    time: int
    place: Place
    midi: int
    name: str
    sounding: Sounding | None
    start: float
    end: float
    verdict: Verdict
    is_grace: bool = False
    heard_midi: int | None = None
    cents: float | None = None
    spread: float = 0.0
    instead: Sounding | None = None

    @property
    def seconds(self) -> float:
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class AddedNote:
    """A note heard that is not written. `heard` is its index in `Heard.notes`.

    `is_ornament`: so short and so placed that it is an ornament of the player's own.
    """

    heard: int
    place: Place
    start: float
    end: float
    midi: int
    name: str
    is_ornament: bool


class BendVerdict(StrEnum):
    REACHED = "reached"
    SHARP = "sharp"  # not bent far enough
    FLAT = "flat"  # bent too far; of an overbend, too low


@dataclass(frozen=True, slots=True)
class JudgedBend:
    """One bend, valved bend or overbend: where its pitch settled and how far it wandered.

    `note` is an index in `TakeReport.notes`. `settled` is the median of the second half of
    the note in cents off the target, `wander` half the distance of its quartiles, `scoop` how
    far above its settled pitch it began (0 where the pitch track does not tell).
    """

    note: int
    verdict: BendVerdict
    settled: float
    wander: float
    scoop: float


@dataclass(frozen=True, slots=True)
class ReedPitch:
    """One hole in one breath, unbent, over the whole take.

    `cents` is the median off the temperament, `spread` half the distance of the quartiles,
    `count` how many notes tell. `is_off`: consistently out, so it is the reed, not the player.
    """

    hole: int
    breath: Breath
    midi: int
    name: str
    cents: float
    spread: float
    count: int
    is_off: bool


class BarVerdict(StrEnum):
    STEADY = "steady"
    RUSHED = "rushed"
    DRAGGED = "dragged"
    STOPPED = "stopped"  # so long that the player must have stopped


@dataclass(frozen=True, slots=True)
class BarTiming:
    """One bar as played: `index` in `Following.bars`, its tempo in quarter notes a minute.

    `expected` is how long it would last at the tempo of the bars around it, in seconds;
    `late` is how much longer it lasted (negative: shorter). `offset` is how far its first
    beat lies behind an even pulse through its surroundings, in seconds. `tells`: it is long
    enough, not the last and without a fermata, so that its length tells of tempo.
    """

    index: int
    number: int
    part: str
    part_time: int
    start: float
    end: float
    tempo: float
    expected: float
    late: float
    offset: float
    verdict: BarVerdict
    tells: bool = True

    @property
    def percent(self) -> float:
        """How much longer than expected it lasted, in percent."""
        return 100 * self.late / self.expected if self.expected else 0.0

    @property
    def expected_tempo(self) -> float:
        """The tempo of the bars around it, in quarter notes a minute."""
        return self.tempo * (1 + self.percent / 100)


@dataclass(frozen=True, slots=True)
class TempoFound:
    """Tempo over the whole take, in quarter notes a minute.

    `beat` is the beat that is felt (quarter notes) and `beats_per_minute` counts it.
    `unsteadiness` is the mean deviation of bars from their surroundings, percent. `drift`
    is how much faster the last quarter of the take is than the first, percent.
    """

    quarters_per_minute: float
    beat: Fraction
    beats_per_minute: float
    unsteadiness: float
    drift: float


@dataclass(frozen=True, slots=True)
class LiltFound:
    """Pairs of even quavers: the first is `ratio` times as long as the second (median).

    `spread` is half the distance of the quartiles of that, `pairs` how many were measured.
    `unit` is the written length of each, in quarter notes.
    """

    ratio: float
    spread: float
    pairs: int
    unit: Fraction


@dataclass(frozen=True, slots=True)
class OrnamentsFound:
    """Written grace notes played and not played, and the player's own ornaments."""

    played: int
    written: int
    left_out: tuple[int, ...]  # indices in `TakeReport.notes`
    own: tuple[int, ...]  # indices in `TakeReport.added`


class HarpSureness(StrEnum):
    """How sure it is which harp was played."""

    SURE = "sure"
    LIKELY = "likely"
    OPEN = "open"  # the notes cannot tell


@dataclass(frozen=True, slots=True)
class HarpCandidate:
    """A harp that may have been played. `probability` is among those that were weighed."""

    harp: Harp
    probability: float
    missing: int  # notes heard that it does not have
    effort_per_note: float
    bends: int
    why: str


@dataclass(frozen=True, slots=True)
class HarpFound:
    """Which harp was played. `candidates` by probability; `key_sureness` of the key alone."""

    candidates: tuple[HarpCandidate, ...]
    key_sureness: HarpSureness
    tuning_sureness: HarpSureness
    words: str

    @property
    def harp(self) -> Harp | None:
        return self.candidates[0].harp if self.candidates else None


@dataclass(frozen=True, slots=True)
class Advice:
    """One useful thing: what, where, and what to do. `bars` are printed numbers."""

    what: str
    where: str
    advice: str
    bars: tuple[int, ...]
    weight: float  # for the order only


@dataclass(frozen=True, slots=True, eq=False)
class TakeReport:
    """All that is told of a take.

    `fits`: the take fits the tune well enough to be judged; where it is false only
    `following` and `message` mean something. `a4` is the take's own reference pitch in Hz.
    `most_useful` has at most three, the most useful first.
    """

    following: Following
    fits: bool
    message: str
    a4: float
    temperament: ReedTemperament
    harp: Harp
    notes: tuple[JudgedNote, ...] = ()
    added: tuple[AddedNote, ...] = ()
    bends: tuple[JudgedBend, ...] = ()
    reeds: tuple[ReedPitch, ...] = ()
    bars: tuple[BarTiming, ...] = ()
    tempo: TempoFound | None = None
    lilt: LiltFound | None = None
    ornaments: OrnamentsFound = OrnamentsFound(0, 0, (), ())
    harp_found: HarpFound | None = None
    most_useful: tuple[Advice, ...] = ()
    went_well: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        return self.following.arrangement.tune.title

    def with_verdict(self, verdict: Verdict) -> tuple[JudgedNote, ...]:
        """The written notes proper, grace notes apart, with this verdict."""
        return tuple(n for n in self.notes if n.verdict is verdict and not n.is_grace)
