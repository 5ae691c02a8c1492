"""First notations of tunes that we did not voice, beside what was played.

    python benchmarks/transcribing.py                     60 tunes of the 1850 collection, by ear
    python benchmarks/transcribing.py --symbolic          the same by a symbolic listener (quick)
    python benchmarks/transcribing.py --symbolic --flat   all notes equally loud
    python benchmarks/transcribing.py --tunes 20 --seed 7 --each

Every tune is arranged on its best harp, timed by `sound.timing` at its type's tempo times 0.75 to
1.1 with its usual lilt, played by FluidSynth's harmonica, up to 40 cents off, in a room, over
pink noise at 20 dB, and heard by `sound.hearing`. What is counted is told in
docs/transcribing.md.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(threads, "1")
sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "takes"))

import numpy as np  # noqa: E402
from imagined_hearing import heard_of  # noqa: E402
from soundfont_takes import notes_of, sampled_tunes, sounded  # noqa: E402

from reedwright.harp.making import make_harp  # noqa: E402
from reedwright.player.loading import load_profile  # noqa: E402
from reedwright.sound.hearing.listening import hear_sound  # noqa: E402
from reedwright.sound.hearing.model import Heard  # noqa: E402
from reedwright.sound.lilt import AS_WRITTEN, lilt_of  # noqa: E402
from reedwright.sound.timing import plan  # noqa: E402
from reedwright.tab.arrange import arrange  # noqa: E402
from reedwright.tab.best import arrange_on_best  # noqa: E402
from reedwright.takes.transcribing.model import NotationWishes, Transcription  # noqa: E402
from reedwright.takes.transcribing.transcribe import transcribe  # noqa: E402
from reedwright.tune.model import Tune  # noqa: E402
from reedwright.tune.tempo import quarters_per_minute  # noqa: E402
from reedwright.tune.unfold import unfold  # noqa: E402

SLOWEST, FASTEST = 0.75, 1.1
NOISE_DB, MOST_CENTS, MOST_ROOM = 20.0, 40.0, 0.6
GOAL_NOTES, GOAL_METRE_AND_KEY = 0.9, 0.85

Event = tuple[Fraction, ...]


class Take(NamedTuple):
    """A tune as it was played (moved to where it lies best), and what was heard of it."""

    tune: Tune
    heard: Heard
    tempo: float  # quarter notes a minute


class Score(NamedTuple):
    """Of one tune. Shares are F measures, 0 to 1; the rest is right or not."""

    notes: float
    notes_even: float
    notes_lenient: float
    metre: bool
    metre_lenient: bool
    key: bool
    signature: bool
    readable: bool
    seconds: float


def a_take(tune: Tune, seed: int, symbolic: bool, flat: bool = False, quick: bool = False) -> Take:
    """Have a tune played and heard. `quick`: on the harp of its key, not on its best one."""
    random = np.random.default_rng([60, seed])
    player = load_profile("player")
    if quick:
        arrangement = arrange(tune, make_harp(tune.key.tonic), player)
    else:
        arrangement = arrange_on_best(tune, player)
    tempo = quarters_per_minute(tune) * float(random.uniform(SLOWEST, FASTEST))
    notes = notes_of(plan(arrangement, tempo=tempo, count_in=False))
    if flat:
        notes = [note._replace(velocity=0.75) for note in notes]
    cents = float(random.uniform(-MOST_CENTS, MOST_CENTS))
    if symbolic:
        heard = heard_of(notes, seed=seed, jitter=0.01, cents=cents)
    else:
        room = float(random.uniform(0, MOST_ROOM))
        level = float(random.uniform(-20, -3))
        take = sounded(
            notes, cents=cents, level_db=level, reverberation=room, noise_db=NOISE_DB, seed=seed
        )
        heard = hear_sound(take.sound, take.rate)
    return Take(arrangement.plain, heard, tempo)


def score(take: Take, result: Transcription, seconds: float) -> Score:
    """Compare a notation with what was played."""
    true, found = take.tune, result.tune
    bar, found_bar = true.meter.bar_length, found.meter.bar_length
    true_notes, found_notes = _events(true, 1), _events(found, result.rounds)
    strict = _f_measure(
        [(n.midi, n.place) for n in true_notes], [(n.midi, n.place) for n in found_notes]
    )
    even = strict
    if lilt_of(true).dotted != AS_WRITTEN and not true.meter.compound:
        even = _f_measure(
            [(n.midi, _evened(n.place)) for n in true_notes],
            [(n.midi, _evened(n.place)) for n in found_notes],
        )
    beat = true.meter.beat_length
    lenient = max(
        _f_measure(
            [(n.midi, n.onset % beat) for n in true_notes],
            [(n.midi, (n.onset * scale) % beat) for n in found_notes],
        )
        for scale in (Fraction(1), Fraction(2), Fraction(1, 2))
    )
    in_time = bar is not None and found_bar is not None
    ratio = 0.0
    if bar and found_bar:
        ratio = float(found_bar) / result.quarters_per_minute / (float(bar) / take.tempo)
    same_kind = true.meter.compound == found.meter.compound
    metre = in_time and bar == found_bar and same_kind and abs(ratio - 1) < 0.1
    lenient_metre = in_time and any(abs(ratio / r - 1) < 0.1 for r in (1.0, 2.0, 0.5))
    same_tonic = true.key.tonic_pitch_class == found.key.tonic_pitch_class
    return Score(
        strict,
        even,
        max(even, lenient),
        metre,
        lenient_metre,
        same_tonic and true.key.mode == found.key.mode,
        true.key.accidentals == found.key.accidentals,
        not found.problems,
        seconds,
    )


class _Event(NamedTuple):
    midi: Fraction
    place: Fraction  # in the printed bar, quarter notes
    onset: Fraction  # from the first bar line


def _events(tune: Tune, rounds: int) -> list[_Event]:
    """The notes as played, ties joined, cuts left out."""
    performance = unfold(tune)
    found: list[_Event] = []
    shift: Fraction | None = None
    for note in performance.notes:
        place = (note.beat - 1) * note.bar.meter.beat_length
        if shift is None:
            shift = place - note.onset
        if not note.continues:
            found.append(_Event(Fraction(note.note.pitch.midi), place, note.onset + shift))
    return found * rounds


def _evened(place: Fraction) -> Fraction:
    """A dotted quaver's semiquaver as the second of two quavers."""
    return place - Fraction(1, 4) if place % 1 == Fraction(3, 4) else place


def _f_measure(true: Sequence[Event], found: Sequence[Event]) -> float:
    """Twice the longest common subsequence over both lengths."""
    if not true or not found:
        return 0.0
    return 2 * _common(true, found) / (len(true) + len(found))


def _common(ones: Sequence[Event], others: Sequence[Event]) -> int:
    """The length of the longest common subsequence, by bits of whole numbers: Hyyrö (2004), "Bit-
    parallel LCS-length computation revisited"."""
    where: dict[Event, int] = {}
    for k, event in enumerate(ones):
        where[event] = where.get(event, 0) | (1 << k)
    mask = (1 << len(ones)) - 1
    row = mask
    for event in others:
        matches = row & where.get(event, 0)
        row = ((row + matches) | (row - matches)) & mask
    return len(ones) - row.bit_count()


def measured(take: Take, wishes: NotationWishes | None = None) -> tuple[Transcription, Score]:
    """Write a take down and score it."""
    start = time.perf_counter()
    result = transcribe(take.heard, wishes or NotationWishes())
    return result, score(take, result, time.perf_counter() - start)


def table(scores: Sequence[Score]) -> str:
    """Means over the tunes, beside the goals."""
    count = len(scores)

    def share(right: Sequence[bool]) -> str:
        return f"{sum(right) / count:6.1%}"

    both = [s.metre and s.key for s in scores]
    lenient = [s.metre_lenient and s.signature for s in scores]
    rows = [
        ("notes right in pitch and place", f"{np.mean([s.notes for s in scores]):6.1%}", "90 %"),
        (
            "  dotted pairs of hornpipes as even",
            f"{np.mean([s.notes_even for s in scores]):6.1%}",
            "",
        ),
        ("  place in the beat only", f"{np.mean([s.notes_lenient for s in scores]):6.1%}", ""),
        ("metre", share([s.metre for s in scores]), ""),
        ("  or halved, doubled", share([s.metre_lenient for s in scores]), ""),
        ("key: tonic and mode", share([s.key for s in scores]), ""),
        ("  signature", share([s.signature for s in scores]), ""),
        ("metre and key", share(both), "85 %"),
        ("  lenient", share(lenient), ""),
        ("read back without a problem", share([s.readable for s in scores]), "100 %"),
        ("seconds a tune", f"{np.mean([s.seconds for s in scores]):6.2f}", ""),
    ]
    return "\n".join(f"{name:37}{value}   {goal}" for name, value, goal in rows)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--tunes", type=int, default=60)
    parser.add_argument("--seed", type=int, default=60)
    parser.add_argument("--symbolic", action="store_true")
    parser.add_argument("--flat", action="store_true")
    parser.add_argument("--each", action="store_true")
    wishes = parser.parse_args()
    scores: list[Score] = []
    for k, tune in enumerate(sampled_tunes(wishes.tunes, wishes.seed)):
        _, one = measured(a_take(tune, k, wishes.symbolic, wishes.flat))
        scores.append(one)
        if wishes.each:
            print(f"{tune.title[:30]:32}{one.notes:6.2f}{one.notes_lenient:6.2f}", one[3:8])
    how = "symbolic listener" if wishes.symbolic else "by ear, 20 dB"
    print(f"First notation of {len(scores)} tunes ({how}{', flat' if wishes.flat else ''})")
    print(table(scores))


if __name__ == "__main__":
    main()
