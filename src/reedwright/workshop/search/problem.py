"""A collection made ready for the search: chains and tempos of the tunes, player, wishes.

Public: `Problem`, `PreparedTune`, `prepare`, `digest`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from reedwright import __version__
from reedwright.errors import ReedwrightError
from reedwright.harp.making import make_harp
from reedwright.harp.model import Harp
from reedwright.player.profile import Profile
from reedwright.tab.chain import Chain, make_chain
from reedwright.tune.model import Tune
from reedwright.tune.tempo import quarters_per_minute
from reedwright.workshop.search.model import Layout, SearchWishes, layout_tuning

SEMITONES_IN_OCTAVE = 12

ANSWERS = 1
"""Version of what the search answers, within one version of Reedwright; a saved state of another
is not gone on with. To be raised whenever a rule of effort changes."""


@dataclass(frozen=True, slots=True)
class PreparedTune:
    """A tune's first voice as played, and its tempo in quarter notes a minute."""

    chain: Chain
    tempo: float


@dataclass(frozen=True, slots=True)
class Problem:
    """What the engine works on. `fingerprints` tell inputs apart, by what they are of."""

    tunes: tuple[PreparedTune, ...]
    profile: Profile
    wishes: SearchWishes
    fingerprints: dict[str, str]

    @property
    def fingerprint(self) -> str:
        """All inputs in one text of hexadecimal digits."""
        return digest(sorted(self.fingerprints.items()))

    @property
    def shifts(self) -> tuple[int, ...]:
        """How far the tune may lie from the harp in C, in semitones: each distance once.

        A harp a tone higher with the tune a tone higher is the same problem.
        """
        octaves, keys = self.wishes.octaves, [harp.transpose for harp in self.harps(())]
        return tuple(
            dict.fromkeys(SEMITONES_IN_OCTAVE * octave - key for octave in octaves for key in keys)
        )

    def harps(self, layout: Layout) -> tuple[Harp, ...]:
        """The harps of a layout, in the keys wished."""
        wishes = self.wishes
        tuning = layout_tuning(wishes.base, layout)
        return tuple(make_harp(key, tuning, valves=wishes.valves) for key in wishes.keys)


def prepare(tunes: Sequence[Tune], profile: Profile, wishes: SearchWishes) -> Problem:
    """Everything that is worked out once for a collection, a player and wishes.

    Raises `EndlessTune` (see `tune.unfold`) and, for wishes without keys or octaves,
    `ReedwrightError`.
    """
    if not wishes.keys or not wishes.octaves:
        raise ReedwrightError("the search needs at least one key of harp and one octave")
    prepared = tuple(PreparedTune(make_chain(tune), quarters_per_minute(tune)) for tune in tunes)
    fingerprints = {
        "version": f"{__version__}, answers {ANSWERS}",
        "tunes": digest(_said(each) for each in prepared),
        "player": digest(
            (sorted(profile.techniques), profile.weights),
        ),
        "wishes": digest(
            (
                wishes.base.blow,
                wishes.base.draw,
                wishes.base.slide,
                wishes.base.blow_slide,
                wishes.base.draw_slide,
                wishes.base.first_position,
                wishes.base.valves,
                wishes.keys,
                wishes.octaves,
                wishes.valves,
            )
        ),
    }
    return Problem(prepared, profile, wishes, fingerprints)


def _said(tune: PreparedTune) -> tuple[object, ...]:
    """All of a tune that bears on its effort."""
    chain = tune.chain
    return (
        [unknown.midi for unknown in chain.unknowns],
        list(chain.lengths.items()),
        list(chain.moves.items()),
        list(chain.ornaments.items()),
        chain.played,
        tune.tempo,
    )


def digest(values: Iterable[object]) -> str:
    """A mark by which to tell values apart, from what they say of themselves (`repr`)."""
    found = hashlib.sha256()
    for each in values:
        found.update(repr(each).encode())
        found.update(b"\n")
    return found.hexdigest()
