"""The key of a transcribed tune: which tonic and which mode.

Public: `key_of`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from reedwright.takes.transcribing.model import Placed
from reedwright.tune.keyfinding import key_of_notes
from reedwright.tune.model import Key


class FoundKey(NamedTuple):
    """A key, how sure it is (0 to 1), and the name of the next likely one."""

    key: Key
    sureness: float
    other: str


def key_of(notes: Sequence[Placed]) -> FoundKey:
    """The key of notes as placed."""
    estimate = key_of_notes(((n.midi, float(n.length)) for n in notes), notes[-1].midi)
    if estimate is None:
        return FoundKey(Key(), 0.0, "")
    lead = estimate.correlation - estimate.runner_up_correlation
    sure = max(0.0, min(1.0, 0.6 + 2 * lead))
    return FoundKey(replace(estimate.key, estimated=False), sure, estimate.runner_up.name)
