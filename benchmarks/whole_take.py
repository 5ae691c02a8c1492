"""A three-minute take heard, followed and reported, and an hour of one, as a user would meet them.

Each is `reedwright take --no-tracks` in a fresh process on one core: processor time and peak
resident size. The take is FluidSynth's playing of the demo reel, several times round, coded as
an m4a. The reference in the same run is the ffmpeg command decoding the same file.

`--hour` also works through an hour of the same (some minutes).
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests" / "takes"), str(ROOT / "tests" / "sound")]

from soundfont_takes import RATE, notes_of, sounded, write_wav  # noqa: E402
from sounding_tunes import example  # noqa: E402

from reedwright.sound.timing import plan  # noqa: E402

TUNES = ROOT / "examples" / "tunes.abc"
TAKE, HOUR = 180, 3600  # seconds
KIB_PER_MB = 1000 * 1000 / 1024
ONE_CORE = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}


def recorded(folder: Path, seconds: int) -> Path:
    """The reel round after round, until so many seconds are over."""
    take = sounded(notes_of(plan(example(0), count_in=False)), reverberation=0.3, noise_db=30)
    rounds = -(-seconds * RATE // len(take.sound))
    sound = np.tile(take.sound, rounds)[: seconds * RATE]
    wav = write_wav(folder / f"take-{seconds}.wav", sound)
    coded = wav.with_suffix(".m4a")
    subprocess.run(["ffmpeg", "-v", "error", "-i", str(wav), str(coded)], check=True)
    return coded


def measured(*command: str) -> tuple[float, float]:
    """Processor seconds and peak megabytes of one process."""
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, env={**os.environ, **ONE_CORE})
    _, status, usage = os.wait4(process.pid, 0)
    if status:
        raise SystemExit(f"{command} ended with status {status}")
    return usage.ru_utime + usage.ru_stime, usage.ru_maxrss / KIB_PER_MB


def worked_through(folder: Path, seconds: int) -> None:
    take = recorded(folder, seconds)
    command = ["take", str(take), "--tune", str(TUNES), "--which", "1", "--no-tracks"]
    own = measured(sys.executable, "-m", "reedwright", *command, "--out", str(folder / "out"))
    decoded = measured("ffmpeg", "-v", "error", "-i", str(take), "-f", "null", "-")
    print(f"a take of {seconds} s heard, followed and reported (processor time)")
    print(f"  take    {own[0]:7.2f} s  {own[1]:5.0f} MB   {seconds / own[0]:.1f} times real time")
    print(f"  decoding alone, ffmpeg {decoded[0]:.2f} s   ratio {own[0] / decoded[0]:.0f}")


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        worked_through(Path(folder), TAKE)
        if "--hour" in sys.argv[1:]:
            worked_through(Path(folder), HOUR)


if __name__ == "__main__":
    main()
