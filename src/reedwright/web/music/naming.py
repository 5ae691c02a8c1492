"""Harps and players by what a browser calls them: by names alone, never by a file's path.

The command line takes paths of tunings and profiles as well. From a browser a path would let
whoever asks have files read on this machine.

Public: `harp_named`, `player_named`.
"""

from __future__ import annotations

from reedwright.datafiles import did_you_mean
from reedwright.harp.making import HarpError, parse_harp
from reedwright.harp.model import Harp
from reedwright.harp.tunings import all_tunings
from reedwright.player.checking import ProfileError
from reedwright.player.loading import load_profile, profile_files
from reedwright.player.profile import Profile


def harp_named(text: str) -> Harp:
    """The harp of a text such as `G:richter:half`, its tuning one of those that are known. Raises
    `HarpError`, and as `parse_harp`."""
    tuning = (*text.split(":"), "")[1].strip()
    if tuning and tuning not in all_tunings():
        near = did_you_mean(tuning, all_tunings()) or "."
        raise HarpError(
            f"There is no tuning called '{tuning}'{near} Write key:tuning, such as "
            "G:richter-raised-3-blow."
        )
    return parse_harp(text)


def player_named(name: str) -> Profile:
    """The profile of that name, shipped or the user's own. Raises `ProfileError`."""
    if name not in profile_files():
        near = did_you_mean(name, profile_files()) or "."
        raise ProfileError(f"There is no player's profile called '{name}'{near}")
    return load_profile(name)
