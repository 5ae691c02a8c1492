"""A tune on a harp for a player: the one thing that page, sound, text and web draw from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from reedwright.harp.model import Harp, Sounding
from reedwright.player.profile import Profile
from reedwright.tab.breath.model import BreathMark
from reedwright.tab.ornaments.model import Ornament
from reedwright.tab.wishes import NO_WISHES, Wishes
from reedwright.tune.model import Tune


@dataclass(frozen=True, slots=True)
class MissingNote:
    """A note that no hole sounds, and what would help.

    `elsewhere` is advice for the whole tune: another octave, another harp. `on_this_harp`
    says with what technique the note would be there; empty where nothing sounds it.
    """

    id: str
    pitch: str
    bar: int
    beat: Fraction
    elsewhere: str
    on_this_harp: str = ""

    @property
    def advice(self) -> str:
        """All of it, in whole sentences."""
        return f"{self.on_this_harp} {self.elsewhere}".strip()


@dataclass(frozen=True, slots=True)
class Arrangement:
    """One `Sounding` for each note and grace note, by id.

    `tune` is as it is played here: where it was moved by octaves or to another
    key, it is the moved tune and `octaves`, `semitones` say how. A written note
    has one sounding, however often it is played; one that the harp lacks has
    none and stands in `missing`. `effort` is the sum over the tune as played,
    and `parts_of_effort` the same by the name of the weight (the parts add up exactly).
    `warnings` are for the person who reads the tab: of a chord only the top note is
    tabbed, and the like. `quarters_per_minute` is the tempo that effort was counted at.

    `tune` is dressed: its ornaments are grace notes and split notes in it, its breaths
    the decoration `breath` on the note before. `undressed` is the tune without any of this
    (None where it is the same), `ornaments` and `breaths` tell of each in turn. `wishes` is
    what was asked of it.
    """

    tune: Tune
    harp: Harp
    player: Profile
    soundings: Mapping[str, Sounding]
    missing: tuple[MissingNote, ...]
    effort: float
    parts_of_effort: Mapping[str, float]
    voice: int = 0
    octaves: int = 0
    semitones: int = 0
    warnings: tuple[str, ...] = ()
    quarters_per_minute: float = 0.0
    notes_played: int = 0
    undressed: Tune | None = None
    ornaments: tuple[Ornament, ...] = ()
    breaths: tuple[BreathMark, ...] = ()
    wishes: Wishes = NO_WISHES

    @property
    def unbreathed(self) -> frozenset[str]:
        """Ids of notes after which no breath is wished."""
        return frozenset(id_ for id_, breathe in self.wishes.breaths.items() if not breathe)

    @property
    def plain(self) -> Tune:
        """The tune as written (and moved), without what was added."""
        return self.undressed or self.tune

    def as_written(self) -> Arrangement:
        """The same tab for the tune without its ornaments and breath marks."""
        return replace(self, tune=self.plain, ornaments=(), breaths=())

    @property
    def effort_per_note(self) -> float:
        """Effort for each note as played."""
        return self.effort / self.notes_played if self.notes_played else 0.0

    @property
    def complete(self) -> bool:
        """Whether every written note has a hole."""
        return not self.missing
