"""The person who plays: what they can do, and what everything costs them.

`profile` says what a profile is, with all its weights; `loading` finds profiles by name or
path (they are data files, also of the user's own). docs/effort.md explains the weights.
"""

from reedwright.player.profile import Profile, Weights

__all__ = ["Profile", "Weights"]
