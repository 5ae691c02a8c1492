"""A cold `reedwright pack` of the demo reel, and `--help`, measured as a user would meet them.

Each is run in a fresh process; time is wall clock, memory the process's peak resident size.
The reference in the same run is a bare Python start with the heavy libraries imported and
nothing done: what no program that stands on them can go below.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

TUNES = Path(__file__).parents[1] / "examples" / "tunes.abc"
ROUNDS = 3
HEAVY = "import numpy, verovio, typst, lameenc, mido, mutagen"
KIB_PER_MB = 1000 * 1000 / 1024


def measured(*arguments: str) -> tuple[float, float]:
    """Seconds and peak megabytes of one process, the fastest of some rounds."""
    best_time, peak = float("inf"), 0.0
    for _ in range(ROUNDS):
        started = time.perf_counter()
        process = subprocess.Popen([sys.executable, *arguments], stdout=subprocess.DEVNULL)
        _, status, usage = os.wait4(process.pid, 0)
        if status:
            raise SystemExit(f"{arguments} ended with status {status}")
        best_time = min(best_time, time.perf_counter() - started)
        peak = max(peak, usage.ru_maxrss / KIB_PER_MB)
    return best_time, peak


def main() -> None:
    with tempfile.TemporaryDirectory() as out:
        pack = measured("-m", "reedwright", "pack", str(TUNES), "--tune", "1", "--out", out)
    floor = measured("-c", HEAVY)
    usage = measured("-m", "reedwright", "--help")
    python = measured("-c", "pass")
    print("whole pack, cold, one demo reel (goal: under 4 s and 500 MB)")
    print(f"  pack            {pack[0]:6.2f} s  {pack[1]:5.0f} MB")
    ratio = pack[0] / floor[0]
    print(f"  libraries alone {floor[0]:6.2f} s  {floor[1]:5.0f} MB   ratio {ratio:.1f}")
    print("--help (goal: under 0.3 s)")
    print(f"  --help          {usage[0]:6.3f} s")
    print(f"  Python alone    {python[0]:6.3f} s             ratio {usage[0] / python[0]:.1f}")


if __name__ == "__main__":
    main()
