"""How well a take is followed along its tune.

    python benchmarks/following.py               40 takes in sound, and what players do
    python benchmarks/following.py --takes 10    fewer takes

The sound is FluidSynth's harmonica playing tunes of the 1850 collection, with one part left out,
one false start, a tempo that drifts by 15 %, another key, detuning, reverberation, and pink
noise at 20 dB. Beside it in the same run: dynamic time warping of chroma (librosa), which is given
the same notes in an even tempo by the same instrument, in the order that was really played.

Goals: the median error of a note's time under 20 ms, 95 % of notes under 50 ms.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(threads, "1")
sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "takes"))

import librosa  # noqa: E402
import numpy as np  # noqa: E402
from imagined_hearing import heard_of  # noqa: E402
from played_badly import Performance, Truth, perform  # noqa: E402
from soundfont_takes import sampled_tunes, sounded  # noqa: E402

from reedwright.harp.making import make_harp  # noqa: E402
from reedwright.player.loading import load_profile  # noqa: E402
from reedwright.sound.hearing.listening import hear_sound  # noqa: E402
from reedwright.tab.arrange import arrange  # noqa: E402
from reedwright.tab.arrangement import Arrangement  # noqa: E402
from reedwright.takes.following.follow import follow  # noqa: E402
from reedwright.takes.model import Following, PassageKind  # noqa: E402
from reedwright.tune.form import find_form  # noqa: E402

LOST = 10.0  # seconds of error counted for a note that is not in the following at all
DTW_RATE, DTW_HOP = 22_050, 512  # 23 ms a frame


class Score(NamedTuple):
    """Of one take: errors of the notes' times in seconds, and whether its form was understood."""

    errors: list[float]
    grace_errors: list[float]
    bars_right: bool
    false_starts_right: bool


def judged(played: Performance, following: Following, false_starts: int) -> Score:
    """Every written note that was sounded; and the bars in order, false starts apart."""
    by = {(note.id, note.time): note for note in following.notes}
    sounded_notes = [t for t in played.truth if t.id and t.time and t.deed.value != "missed"]

    def error(true: Truth) -> float:
        note = by.get((true.id, true.time))
        return LOST if note is None else abs(note.start - true.start)

    with_notes = {bar.index for bar in following.bars if bar.last > bar.first}
    with_notes |= {true.bar for true in played.truth}
    found = sum(p.kind is PassageKind.FALSE_START for p in following.passages)
    return Score(
        [error(t) for t in sounded_notes if not t.is_grace],
        [error(t) for t in sounded_notes if t.is_grace],
        [bar.index for bar in following.bars if bar.index in with_notes]
        == [bar.index for bar in played.bars if bar.index in with_notes],
        found == false_starts,
    )


def warped(played: Performance, even: Performance, take: np.ndarray, rate: int) -> list[float]:
    """The errors of time warping, the order of playing given to it."""
    reference = sounded(even.notes)
    chromas = []
    for sound, its_rate in ((reference.sound, reference.rate), (take, rate)):
        low = librosa.resample(sound, orig_sr=its_rate, target_sr=DTW_RATE)
        chroma = librosa.feature.chroma_stft(y=low, sr=DTW_RATE, hop_length=DTW_HOP)
        chromas.append(chroma + 1e-3)  # silence has no direction
    _, way = librosa.sequence.dtw(chromas[0], chromas[1], metric="cosine")
    way = way[::-1] * (DTW_HOP / DTW_RATE)
    errors = []
    for true, straight in zip(played.truth, even.truth, strict=True):
        if true.id and true.time and not true.is_grace:
            at = float(np.interp(straight.start, way[:, 0], way[:, 1]))
            errors.append(abs(at - true.start))
    return errors


def arrangements(count: int) -> Iterator[tuple[int, Arrangement]]:
    harp, player = make_harp("G"), load_profile("player")
    for k, tune in enumerate(sampled_tunes(60)[:count]):
        yield k, arrange(tune, harp, player)


def in_sound(count: int) -> None:
    ours: list[Score] = []
    theirs: list[float] = []
    seconds = listening = following_time = 0.0
    for k, arrangement in arrangements(count):
        random = np.random.default_rng(k)
        form = find_form(arrangement.tune)
        again = next((i for i in range(1, len(form)) if form[i] == form[i - 1]), 0)
        event = {
            "skip_repeats": (again,) if len(form) > 1 else (),
            "false_start": int(random.integers(6, 14)),
            "speed": float(random.uniform(0.75, 1.15)),
        }
        semitones = int(random.integers(-6, 7))
        played = perform(arrangement, drift=0.15, rubato=0.02, semitones=semitones, seed=k, **event)
        even = perform(arrangement, semitones=semitones, seed=k, **event)
        take = sounded(
            played.notes,
            cents=float(random.uniform(-30, 30)),
            reverberation=0.3,
            noise_db=20,
            seed=k,
        )
        start = time.process_time()
        heard = hear_sound(take.sound, take.rate)
        middle = time.process_time()
        following = follow(arrangement, heard)
        following_time += time.process_time() - middle
        listening += middle - start
        seconds += heard.duration
        score = judged(played, following, 1)
        ours.append(score)
        theirs += warped(played, even, take.sound, take.rate)
        if not score.bars_right or not score.false_starts_right:
            print(f"  not understood: {arrangement.tune.title}, {following.skipped}")
    print(f"{count} takes in sound, {seconds:.0f} s (goal: median < 20 ms, 95 % < 50 ms)")
    report("followed", [e for score in ours for e in score.errors])
    report("  their cuts", [e for score in ours for e in score.grace_errors])
    report("chroma DTW, order given", theirs)
    worst = np.mean([np.mean(np.array(s.errors) < 0.05) >= 0.95 for s in ours])
    print(f"  takes with 95 % of their notes under 50 ms: {worst:.1%}")
    print(f"  bars in the right order: {np.mean([s.bars_right for s in ours]):.1%}")
    print(f"  false start found, and no other: {np.mean([s.false_starts_right for s in ours]):.1%}")
    print(f"  for three minutes: listening {180 * listening / seconds:.2f} s CPU, ", end="")
    print(f"following {180 * following_time / seconds:.2f} s CPU")


def report(name: str, errors: list[float]) -> None:
    if errors:
        e = np.array(errors)
        print(
            f"  {name:24} {len(e):6} notes, median {1000 * np.median(e):5.1f} ms, "
            f"95 % under {1000 * np.quantile(e, 0.95):6.1f} ms, under 50 ms {np.mean(e < 0.05):.1%}"
        )


def what_players_do(count: int) -> None:
    """By notes that are known (a symbolic listener), so that only following is judged."""
    print("what players do, notes given:")
    for name in ("as written", "mistakes", "broken off twice", "three rounds", "from part B",
                 "part once more", "rubato of 10 %", "1 note in 12 not noticed"):  # fmt: skip
        scores = []
        for k, arrangement in arrangements(count):
            played = performed(name, arrangement, k)
            unheard = 1 / 12 if "noticed" in name else 0.0
            following = follow(arrangement, heard_of(played.notes, seed=k, unheard=unheard))
            scores.append(judged(played, following, 2 if "broken" in name else 0))
        errors = np.array([e for score in scores for e in score.errors])
        bars = np.mean([s.bars_right for s in scores])
        false = np.mean([s.false_starts_right for s in scores])
        print(
            f"  {name:26} under 50 ms {np.mean(errors < 0.05):6.1%}, bars in order {bars:6.1%}, "
            f"false starts right {false:6.1%}"
        )


def performed(name: str, arrangement: Arrangement, k: int) -> Performance:
    random = np.random.default_rng(1000 + k)
    plain = perform(arrangement)
    notes, bars = len(plain.written), len(plain.bars)
    some = tuple(int(n) for n in sorted(random.choice(notes, notes // 8, replace=False)))
    half = bars // 2
    extra: dict[str, object] = {
        "mistakes": {
            "wrong": some[::4], "missed": some[1::4], "added": some[2::4], "flat": some[3::4],
        },
        "broken off twice": {
            "breaks": (
                (int(random.integers(2, half)), int(random.integers(1, 3))),
                (int(random.integers(half + 3, bars)), int(random.integers(1, 3))),
            )
        },
        "three rounds": {"rounds": 3},
        "from part B": {"first_part": 1, "rounds": 2},
        "part once more": {"again": (0,)},
        "rubato of 10 %": {"rubato": 0.1},
    }.get(name, {})  # fmt: skip
    return perform(
        arrangement,
        **{"drift": 0.15, "rubato": 0.03, "noodling": (3.0, 3.0), "seed": k, **extra},  # type: ignore[arg-type]
    )


def wrong_tunes(count: int) -> None:
    every = [arrangement for _, arrangement in arrangements(count)]
    right, wrong = [], []
    for k, arrangement in enumerate(every):
        heard = heard_of(perform(arrangement, drift=0.1, rubato=0.03, seed=k).notes, seed=k)
        right.append(follow(arrangement, heard).sureness)
        wrong.append(follow(every[(k + 11) % len(every)], heard).sureness)
    print(
        f"sureness: the tune itself {min(right):.2f} at least, "
        f"another tune {max(wrong):.2f} at most ({np.mean(np.array(wrong) > 0.3):.1%} above 0.3)"
    )


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--takes", type=int, default=40)
    count = parser.parse_args().takes
    in_sound(count)
    what_players_do(count)
    wrong_tunes(count)


if __name__ == "__main__":
    main()
