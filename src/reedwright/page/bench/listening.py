"""The pairs of reeds to listen to at the bench, and how often each should beat.

Public: `beat_rows`, `octave_pairs`.
"""

from __future__ import annotations

from collections.abc import Sequence

from reedwright.harp.model import Breath, Harp
from reedwright.page.bench.words import note_words
from reedwright.workshop.targets.beating import MOST_RATE
from reedwright.workshop.targets.beats import PURE_HZ, PairBeats, PairKind, pair_beats
from reedwright.workshop.targets.model import Targets

Row = dict[str, object]


def octave_pairs(targets: Targets) -> tuple[PairBeats, ...]:
    """The octaves that are played with the tongue between, blow before draw, from hole 1 up."""
    return tuple(pair for pair in pair_beats(targets) if pair.kind is PairKind.OCTAVE)


def beat_rows(pairs: Sequence[PairBeats], harp: Harp) -> list[Row]:
    """Each breath's pairs as rows; beats are those at the bench (`brief`: without "a second").

    `still` of a breath says that its pairs are all octaves without beats, which one sentence tells.
    """
    found: list[Row] = []
    for breath in Breath:
        own = [pair for pair in pairs if pair.lower.breath is breath]
        if not own:
            continue
        found.append(
            {
                "breath": breath.value,
                "still": all(p.kind is PairKind.OCTAVE and _still(p) for p in own),
                "rows": [_row(pair, harp) for pair in own],
            }
        )
    return found


def _row(pair: PairBeats, harp: Harp) -> Row:
    low, high = (harp.reed_midi(*reed) for reed in (pair.lower, pair.upper))
    return {
        "holes": f"{pair.lower.hole} + {pair.upper.hole}",
        "notes": f"{note_words(low, harp)} {note_words(high, harp)}",
        "interval": pair.interval,
        "beats": _beats_words(pair),
        "brief": _beats_words(pair).replace(" a second,", ""),
    }


def _beats_words(pair: PairBeats) -> str:
    """`0.4 a second, wide`, `still`."""
    rate = abs(pair.bench_rate)
    if _still(pair):
        return "still"
    side = "wide" if pair.bench_rate > 0 else "narrow"
    if rate > MOST_RATE:
        return f"rough, {side}"
    return f"{rate:.1f} a second, {side}"


def _still(pair: PairBeats) -> bool:
    return abs(pair.bench_rate) < PURE_HZ
