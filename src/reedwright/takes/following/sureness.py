"""How sure it is that a take is of a tune at all."""

from __future__ import annotations

from collections.abc import Sequence as Several

from reedwright.takes.following.music import Music
from reedwright.takes.following.path import Path, Sequence
from reedwright.takes.following.score import Score
from reedwright.takes.model import FollowedNote


def sureness_of(
    score: Score,
    heard: Sequence,
    path: Path,
    music: Music,
    notes: Several[FollowedNote],
    extra: Several[int],
    semitones: int,
) -> float:
    """From 0 to 1."""
    right = sum(
        1
        for note in notes
        if note.heard and not note.is_grace and abs(heard.midi[note.heard[0]] + 0 - note.midi) < 0.6
    )
    total = sum(not note.is_grace for note in notes) + len(extra)
    return right / max(1, total)
