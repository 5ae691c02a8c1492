"""The harps that a player owns, and what would serve better: buy this one, or retune that one.

Public: `owned_by`, `owned_from`, `changed_harps`, `next_best`, `retunings`, `NextBest`,
`Purchase`, `Retuning`, `RetunedReed`. Words and JSON for them are in `owningwords`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.harp.making import HarpError, parse_harp
from reedwright.harp.model import Breath, Harp, Reed, Tuning
from reedwright.harp.naming import KEYS
from reedwright.harp.tunings import all_tunings
from reedwright.player.profile import Profile
from reedwright.tab.ranking import RankedHarp, best_harp, rank_harps
from reedwright.tune.model import Tune

# What counts as a small retuning, and as better (assumptions: judgement, no source).
MOST_REEDS = 3  # reeds; more is a new set of reed plates rather than an evening's work
MOST_SEMITONES = 2  # up or down; further a reed loses strength and response
LEAST_GAIN = 0.10
"""Effort a note that a new harp must save: about a breath change in every tenth note."""
MOST_STILL_MISSING = 0.5
"""Share of the notes that were missing which may be missing still: else it is no help."""
EACH_REED = 0.03
"""Effort a note that each further reed must save to be worth its retuning."""


class OwnedHarpError(ReedwrightError):
    """A harp that somebody is said to own, and that cannot be read."""


class RetunedReed(NamedTuple):
    """One reed's new note. `from_midi`, `to_midi`: MIDI notes on the harp as it is and then."""

    reed: Reed
    from_midi: int
    to_midi: int

    @property
    def semitones(self) -> int:
        """Up (more than 0) or down."""
        return self.to_midi - self.from_midi


@dataclass(frozen=True, slots=True)
class Purchase:
    """A harp to buy, ranked as in a shop: common tunings before rare ones."""

    ranked: RankedHarp


@dataclass(frozen=True, slots=True)
class Retuning:
    """What an owned harp becomes when a few of its reeds are retuned."""

    owned: Harp
    ranked: RankedHarp
    reeds: tuple[RetunedReed, ...]


@dataclass(frozen=True, slots=True)
class NextBest:
    """What would serve better than `now`, the best of the owned harps."""

    now: RankedHarp
    buy: Purchase | None
    retune: Retuning | None


def owned_by(profile: Profile) -> tuple[Harp, ...] | None:
    """The harps that the profile lists; None where it says nothing of them.

    Raises `OwnedHarpError` that names the profile and the entry.
    """
    if not profile.harps:
        return None
    found = []
    for entry in profile.harps:
        try:
            found.append(parse_harp(entry))
        except ReedwrightError as error:
            raise OwnedHarpError(
                f"the profile '{profile.name}' lists the harp '{entry}': {error}"
            ) from None
    return tuple(dict.fromkeys(found))


def owned_from(text: str) -> tuple[tuple[str, Harp], ...]:
    """Harps as somebody lists them, each as written and as read: `C, G:richter:half`.

    One harp alone may have commas in its valves: `C:richter:blow 1-6, draw 7 8`.
    Raises `HarpError` and the errors of its parts.
    """
    try:
        return ((_tidy(text), parse_harp(text)),)
    except ReedwrightError:
        parts = [_tidy(part) for part in re.split(r"[,;\n]", text) if part.strip()]
        if not parts:
            raise HarpError("no harp is named; write a list such as 'C, G, low D'") from None
    read: dict[Harp, str] = {}
    for part in parts:
        read.setdefault(parse_harp(part), part)
    return tuple((part, harp) for harp, part in read.items())


def changed_harps(
    texts: Sequence[str], add: Iterable[str] = (), drop: Iterable[str] = ()
) -> tuple[str, ...]:
    """A profile's list of harps with some added (each once) and some dropped, as texts.

    Raises `OwnedHarpError` where one that is dropped is not in the list, and the errors of
    `owned_from`.
    """
    kept: dict[Harp, str] = {}
    for text in (*texts, *add):
        for written, harp in owned_from(text):
            kept.setdefault(harp, written)
    for text in drop:
        for written, harp in owned_from(text):
            if harp not in kept:
                have = ", ".join(kept.values()) or "none"
                raise OwnedHarpError(f"there is no '{written}' among the harps listed ({have})")
            del kept[harp]
    return tuple(kept.values())


def _tidy(text: str) -> str:
    return " ".join(text.split())


def next_best(
    tune: Tune,
    profile: Profile,
    owned: Sequence[Harp],
    voice: int = 0,
    octaves: Sequence[int] = (-1, 0, 1),
    any_key: bool = False,
    quarters_per_minute: float | None = None,
) -> NextBest | None:
    """What to buy, and which owned harp to retune, where that is really easier.

    Really easier: half of the missing notes at most still missing, or as many missing and
    `LEAST_GAIN` less effort a note, and further up in the order of the ranking too. A harp with
    a slide, another instrument, is offered only to those who own one. None where nothing
    is easier, or where the tune has no notes or no harp is owned.
    """

    how = (voice, octaves, any_key, quarters_per_minute)
    now = best_harp(tune, profile, owned, *how)
    if now is None:
        return None
    shop = best_harp(tune, profile, None, *how)
    if shop and _slides(shop) and not any(harp.tuning.slide for harp in owned):
        plain = (each for each in rank_harps(tune, profile, None, *how) if not _slides(each))
        shop = next(plain, None)
    buy = None
    if shop is not None and shop.harp not in owned and _really_easier(shop, now):
        buy = Purchase(shop)
    retune = None
    become = retunings(owned)
    if become:
        ranked = rank_harps(tune, profile, tuple(become), *how)
        first = min(ranked, key=lambda each: _order(each, len(become[each.harp][1])))
        if _really_easier(first, now):
            retune = Retuning(become[first.harp][0], first, become[first.harp][1])
    return NextBest(now, buy, retune) if buy or retune else None


def _slides(ranked: RankedHarp) -> bool:
    return ranked.harp.tuning.slide > 0


def _order(ranked: RankedHarp, reeds: int = 0) -> tuple[int, float]:
    """As `rank_harps` orders, each retuned reed counting against a harp."""
    return ranked.missing, ranked.effort_per_note + ranked.preference + EACH_REED * reeds


def _really_easier(offer: RankedHarp, now: RankedHarp) -> bool:
    if offer.missing != now.missing:
        return offer.missing <= MOST_STILL_MISSING * now.missing
    gain = now.effort_per_note - offer.effort_per_note
    return gain >= LEAST_GAIN and _order(offer) < _order(now)


def retunings(
    owned: Iterable[Harp],
) -> dict[Harp, tuple[Harp, tuple[RetunedReed, ...]]]:
    """What the owned harps become by small retunings, none of which is owned already.

    Each with the harp that it is made of (the one with fewest reeds to retune) and the reeds.
    The valves stay where they are. Harps with a slide are left alone.
    """
    have = tuple(dict.fromkeys(owned))
    found: dict[Harp, tuple[Harp, tuple[RetunedReed, ...]]] = {}
    for harp in have:
        for tuning in all_tunings().values():
            reeds = _retuned(harp, tuning)
            if not reeds:
                continue
            made = Harp(
                tuning, _label(harp, tuning), harp.transpose, harp.register, harp.isolated, harp.a4
            )
            if made in have or (made in found and len(found[made][1]) <= len(reeds)):
                continue
            found[made] = (harp, reeds)
    return found


def _retuned(harp: Harp, tuning: Tuning) -> tuple[RetunedReed, ...]:
    """The reeds that differ; empty where none does, or where it is no small retuning."""
    if harp.tuning.slide or tuning.slide or tuning.holes != harp.tuning.holes:
        return ()
    reeds = []
    for hole in range(1, tuning.holes + 1):
        for breath, target in ((Breath.BLOW, tuning.blow), (Breath.DRAW, tuning.draw)):
            now, then = harp.reed_midi(hole, breath), target[hole - 1] + harp.transpose
            if now != then:
                reeds.append(RetunedReed(Reed(hole, breath), now, then))
    if len(reeds) > MOST_REEDS or any(abs(each.semitones) > MOST_SEMITONES for each in reeds):
        return ()
    return tuple(reeds)


def _label(harp: Harp, tuning: Tuning) -> str:
    """The key as the trade prints it on such a harp: natural minor on a C layout is a G harp."""
    return KEYS[(harp.home_pitch_class - tuning.first_position - 7) % 12]
