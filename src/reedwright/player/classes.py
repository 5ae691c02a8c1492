"""A class as one player: the weakest of several, so that what suits it suits everybody.

What is taken
-------------
* Techniques: those that all have.
* Weights: the highest of any member, lists by hole element by element. No weight makes playing
  easier as it grows: `comfortable_seconds` and `most_haste` make more haste, of `after_rest`
  more of a move remains, and `breath_balance`, though a preference, only adds effort.
* Lungs: the smallest of what a player has or gets back (`SMALLER_IS_WEAKER`), the largest of
  all that takes air or time. `loudness_step` works both ways, more air for loud notes and less for
  soft ones; the largest is taken, since it is loud playing that empties a player.
* Harps: those that all own among the members who say what they own.

So no tab costs the class less than it costs any member, and a note that a member cannot sound
the class cannot either. It may be weaker than each member: one is slow, another lacks bends.

Public: `class_profile`, `common_harps`, `same_harp`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import fields

from reedwright.player.checking import ProfileError
from reedwright.player.lungs import Lungs
from reedwright.player.profile import Profile, Weights

SMALLER_IS_WEAKER = frozenset({"comfortable_litres", "most_litres", "breath_rate", "rest_rate"})
"""Figures of the lungs of which a smaller value is the weaker player's."""


def class_profile(
    profiles: Sequence[Profile],
    name: str,
    title: str = "",
    harps: tuple[str, ...] | None = None,
) -> Profile:
    """The weakest of several players as one profile.

    `harps`: what to take instead of the harps that they have in common. Raises
    `ProfileError` where there is nobody, or where they have no harp in common.
    """
    if not profiles:
        raise ProfileError(f"{name}: a class needs at least one player")
    members = tuple(sorted(profiles, key=lambda each: each.name))
    return Profile(
        name=name,
        title=title or f"class of {', '.join(each.name for each in members)}",
        techniques=frozenset.intersection(*(each.techniques for each in members)),
        weights=_weights([each.weights for each in members]),
        lungs=_lungs([each.lungs for each in members]),
        harps=common_harps(members) if harps is None else harps,
    )


def common_harps(profiles: Sequence[Profile]) -> tuple[str, ...]:
    """The harps that all own, of those who say what they own; in the order of the first.

    Raises `ProfileError` where they own none in common: no list would mean any harp.
    """
    said = [each for each in profiles if each.harps]
    if not said:
        return ()
    sets = [{same_harp(harp) for harp in each.harps} for each in said]
    common = set.intersection(*sets)
    if not common:
        owners = ", ".join(each.name for each in said)
        raise ProfileError(
            f"{owners} own no harp in common; list in the class's profile the harps that all will "
            'have (harps = ["C"]), or write harps = [] for any harp'
        )
    mine = {same_harp(harp): harp for harp in reversed(said[0].harps)}
    return tuple(
        mine[same] for same in dict.fromkeys(map(same_harp, said[0].harps)) if same in common
    )


_KEY_NAMES = {
    "C#": "Db", "D#": "Eb", "G#": "Ab", "A#": "Bb", "Gb": "F#", "Cb": "B", "E#": "F",
    "Fb": "E", "B#": "C",
}  # fmt: skip
_REGISTERS = ("low", "ordinary", "high")


def same_harp(text: str) -> str:
    """One writing for all ways to write one harp: `c# : richter` and `Db` are the same.

    Writings that come out alike mean one harp. Valves that are written as a list of reeds are
    taken as they stand: `half` and `blow 1-6, draw 7-10` count as two.
    """
    head, *rest = (" ".join(part.split()) for part in text.split(":"))
    tuning, valves = [*rest[:2], "", ""][:2]
    words = head.replace("♯", "#").replace("♭", "b").split()
    register = "ordinary"
    for word in [*words[:1], *words[-1:]] if len(words) > 1 else []:
        if word.lower() in _REGISTERS:
            register = word.lower()
            words.remove(word)
            break
    key = re.sub(r"(m|min|minor|major)$", "", "".join(words))
    key = key[:1].upper() + key[1:]
    return ":".join(
        (
            f"{register} {_KEY_NAMES.get(key, key)}",
            tuning or "richter",
            "" if valves.lower() == "as made" else valves.lower(),
        )
    )


def _weights(each: Sequence[Weights]) -> Weights:
    hardest: dict[str, float | tuple[float, ...]] = {}
    for field in fields(Weights):
        values = [getattr(weights, field.name) for weights in each]
        if isinstance(values[0], tuple):
            hardest[field.name] = tuple(max(column) for column in zip(*values, strict=True))
        else:
            hardest[field.name] = max(values)
    return Weights(**hardest)  # type: ignore[arg-type]


def _lungs(each: Sequence[Lungs]) -> Lungs:
    return Lungs(
        **{
            field.name: (min if field.name in SMALLER_IS_WEAKER else max)(
                getattr(lungs, field.name) for lungs in each
            )
            for field in fields(Lungs)
        }
    )
