"""Slowing down: how near truly slower sound, how sharp, how fast, beside the rubberband command.

Run: `python benchmarks/slowdown.py [--tunes N] [--hour]`. Tunes of the 1850 collection are
played by FluidSynth as they are and at half speed; the first is slowed by us and by
the command with both its engines, all compared with the second. Half of the takes are played
as the timing has them, half with every note detached, so that each begins out of a gap.
Measures and their sources: tests/sound/slowdown_measures.py. Then finished tracks are judged
by FFmpeg's ebur128; with `--hour`, also the memory that an hour in stereo takes.
"""

from __future__ import annotations

import argparse
import re
import resource
import subprocess
import sys
import tempfile
import time
import wave
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np

TESTS = Path(__file__).parents[1] / "tests"
sys.path[:0] = [str(TESTS / "takes"), str(TESTS / "sound")]

from slowdown_measures import (  # noqa: E402
    by_rubberband,
    detached,
    later,
    log_attack_times,
    onset_flux,
    pitch_errors,
    spectral_convergence,
)
from soundfont_takes import RATE, Played, Sound, notes_of, sampled_tunes, sounded  # noqa: E402

from reedwright.harp.making import make_harp  # noqa: E402
from reedwright.player.loading import load_profile  # noqa: E402
from reedwright.sound.recording.opening import open_recording  # noqa: E402
from reedwright.sound.stretching import stretched  # noqa: E402
from reedwright.sound.timing import plan  # noqa: E402
from reedwright.tab.arrange import arrange  # noqa: E402
from reedwright.takes.practice.settings import PracticeSettings  # noqa: E402
from reedwright.takes.practice.tracks import write_tracks  # noqa: E402

FACTOR = 2.0
LONGEST = 12.0  # seconds of each tune
METHODS: dict[str, Callable[[Sound], Sound]] = {
    "Reedwright": lambda sound: stretched(sound[:, None], RATE, 1 / FACTOR)[:, 0],
    "rubberband -3 (finer)": lambda sound: by_rubberband(sound, FACTOR, "-3"),
    "rubberband (default)": lambda sound: by_rubberband(sound, FACTOR, "-2"),
}


class Result(NamedTuple):
    """Of one take slowed by one method. `seconds` are of one core, of `length` made."""

    convergence: float
    cents: list[float]
    off: float
    attacks: list[float]
    flux: list[float]
    seconds: float
    length: float


def takes(count: int) -> list[list[Played]]:
    harp, player = make_harp("G", "richter-raised-3-blow"), load_profile("player")
    found = []
    for k, tune in enumerate(sampled_tunes(60)[:count]):
        timeline = plan(arrange(tune, harp, player), count_in=False)
        notes = [note for note in notes_of(timeline) if note.end < LONGEST]
        plain = [note for note in notes if not note.is_grace]
        found.append(detached(plain) if k % 2 else notes)
    return found


def measured(method: Callable[[Sound], Sound], played: Sound, true: Sound,
             notes: Sequence[Played]) -> Result:  # fmt: skip
    before = _cpu()
    made = method(played)
    seconds = _cpu() - before
    slowly = later(notes, FACTOR)
    return Result(
        spectral_convergence(made, true),
        pitch_errors(made, played, notes, FACTOR),
        abs(len(made) - FACTOR * len(played)) / RATE,
        log_attack_times(made, slowly),
        onset_flux(made, slowly),
        seconds,
        len(made) / RATE,
    )


def _cpu() -> float:
    """Seconds that this process and those it started have worked."""
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime


def slowing(count: int) -> None:
    results: dict[str, list[Result]] = {name: [] for name in METHODS}
    true_attacks: list[float] = []
    true_flux: list[float] = []
    stretched(np.zeros((RATE, 1), np.float32), RATE, 0.5)  # imports are not timed
    for notes in takes(count):
        played = sounded(notes).sound
        slowly = later(notes, FACTOR)
        true = sounded(slowly).sound
        true_attacks += log_attack_times(true, slowly)
        true_flux += onset_flux(true, slowly)
        for name, method in METHODS.items():
            results[name].append(measured(method, played, true, notes))
    print(f"{count} takes at half speed; attacks in log10 s, lower is sharper; flux: higher is")
    print(f"{'':24}{'converg.':>9}{'cents 95%':>10}{'most':>7}{'ms off':>7}"
          f"{'attack':>8}{'flux':>7}{'x real':>8}")  # fmt: skip
    print(f"{'truly played slower':24}{0:9.3f}{'':24}{np.mean(true_attacks):8.3f}"
          f"{np.mean(true_flux):7.4f}")  # fmt: skip
    for name, found in results.items():
        cents = np.abs([each for result in found for each in result.cents])
        attacks = [each for result in found for each in result.attacks]
        flux = [each for result in found for each in result.flux]
        speed = sum(r.length for r in found) / sum(r.seconds for r in found)
        print(
            f"{name:24}{np.mean([r.convergence for r in found]):9.3f}"
            f"{np.percentile(cents, 95):10.2f}{cents.max():7.2f}"
            f"{1000 * max(r.off for r in found):7.2f}"
            f"{np.mean(attacks):8.3f}{np.mean(flux):7.4f}{speed:8.1f}"
        )
    ours = results["Reedwright"]
    for name in list(METHODS)[1:]:
        nearer = sum(
            a.convergence <= b.convergence for a, b in zip(ours, results[name], strict=True)
        )
        ratio = sum(b.seconds for b in results[name]) / sum(a.seconds for a in ours)
        print(f"nearer than {name} in {nearer} of {count}; {ratio:.2f} times as fast")
    print("x real: seconds of slow sound made in a second of one core (half as much is heard)")


def finished() -> None:
    """Tracks of three takes: very soft, with knocks at the microphone, in noise."""
    print("\nfinished tracks by FFmpeg's ebur128 (to be -16 within 0.2, under -1)")
    notes = takes(1)[0]
    for what, sound in (
        ("soft", np.float32(0.01) * sounded(notes).sound),
        ("with knocks", _knocked(sounded(notes, level_db=-20).sound)),
        ("noise at 10 dB", sounded(notes, noise_db=10).sound),
    ):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            _write_float(folder / "take.wav", sound)
            recording = open_recording(folder / "take.wav")
            for file in write_tracks(recording, None, PracticeSettings(), folder, "t"):
                command = ["ffmpeg", "-hide_banner", "-nostats", "-i", str(folder / file)]
                command += ["-af", "ebur128=peak=true", "-f", "null", "-"]
                said = subprocess.run(command, capture_output=True, check=True).stderr.decode()
                summary = said[said.rindex("Summary:") :]
                levels = re.findall(r"(?:I|Peak):\s+(-?[\d.]+)", summary)
                print(f"  {what:16}{file:16}{levels[0]:>7} LUFS{levels[1]:>7} dBTP")


def _knocked(sound: Sound) -> Sound:
    sound = sound.copy()
    for at in range(RATE, len(sound) - 100, 2 * RATE):
        sound[at : at + 60] += (0.9 * np.hanning(60)).astype(np.float32)
    return sound


def _write_float(path: Path, sound: Sound) -> None:
    command = ["ffmpeg", "-v", "error", "-f", "f32le", "-ar", str(RATE), "-ac", "1", "-i", "-"]
    command += ["-c:a", "pcm_f32le", str(path)]
    subprocess.run(command, input=sound.astype("<f4").tobytes(), check=True)


def an_hour() -> None:
    """Full tempo and 55 % of an hour in stereo, in a process of its own."""
    sound = np.concatenate([sounded(notes).sound for notes in takes(4)])
    pairs = np.stack([sound, 0.8 * np.roll(sound, 31)], axis=1)
    block = np.rint(30_000 * pairs).astype("<i2").tobytes()
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "hour.wav"
        with wave.open(str(path), "wb") as file:
            file.setnchannels(2)
            file.setsampwidth(2)
            file.setframerate(RATE)
            for _ in range(3600 * RATE // len(sound) + 1):
                file.writeframes(block)
        begin = time.perf_counter()
        said = subprocess.run(
            [sys.executable, __file__, "--take", str(path)], capture_output=True, check=True
        )
        seconds = time.perf_counter() - begin
    print(
        f"\nan hour in stereo, full tempo and 55 %: {said.stdout.decode().strip()}, {seconds:.0f} s"
    )


def one_take(path: Path) -> None:
    write_tracks(open_recording(path), None, PracticeSettings(), path.parent, "t")
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{most:.0f} MB at most, {time.process_time():.0f} s of work")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tunes", type=int, default=12)
    parser.add_argument("--hour", action="store_true")
    parser.add_argument("--take", type=Path, help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.take is not None:
        one_take(args.take)
        return
    slowing(args.tunes)
    finished()
    if args.hour:
        an_hour()


if __name__ == "__main__":
    main()
