"""Changing a teacher's choices: adding one, taking one out, putting aside what no longer fits.

Public: `with_choice`, `without_choices`, `put_aside`, `with_weights`.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from typing import Any

from reedwright.player.profile import Profile
from reedwright.tab.choices.model import Choice, Never, Play, TuneChoices
from reedwright.tab.choices.places import Placed
from reedwright.tab.choices.resolving import Resolved


def with_choice(
    choices: TuneChoices, resolved: Resolved, note: Placed, choice: Choice
) -> TuneChoices:
    """Add a choice for a note. It takes the place of one of its kind on that note and time.

    Ways that must not be taken add up; a way to play that was forbidden is so no longer.
    """
    kept = list(choices.choices)
    says = choice.says
    for each in resolved.found:
        same_note = each.note.id == note.id and each.choice.place.time == choice.place.time
        if not same_note or each.again:
            continue
        old = each.choice.says
        if isinstance(says, Never) and isinstance(old, Never):
            says = Never((*old.ways, *(way for way in says.ways if way not in old.ways)))
            kept.remove(each.choice)
        elif isinstance(says, Never) and isinstance(old, Play):
            if old.way in says.ways:
                kept.remove(each.choice)
        elif isinstance(says, Play) and isinstance(old, Never):
            if says.way in old.ways:
                at = kept.index(each.choice)
                left = tuple(way for way in old.ways if way != says.way)
                kept[at : at + 1] = [each.choice._replace(says=Never(left))] if left else []
        elif type(old) is type(says):
            kept.remove(each.choice)
    return replace(choices, choices=(*kept, choice._replace(says=says)))


def without_choices(choices: TuneChoices, unwanted: Collection[Choice]) -> TuneChoices:
    """Take choices out, wherever they stand."""
    return replace(
        choices,
        choices=tuple(each for each in choices.choices if each not in unwanted),
        aside=tuple(each for each in choices.aside if each.choice not in unwanted),
    )


def put_aside(choices: TuneChoices, resolved: Resolved) -> TuneChoices:
    """What stands on no note goes aside with the reason; what fits again comes back."""
    return replace(
        choices,
        choices=tuple(each.choice for each in resolved.found),
        aside=resolved.aside,
    )


def with_weights(profile: Profile, choices: TuneChoices) -> Profile:
    """The player with the weights that this tune changes."""
    if not choices.weights:
        return profile
    changed: dict[str, Any] = dict(choices.weights)
    return replace(profile, weights=replace(profile.weights, **changed))
