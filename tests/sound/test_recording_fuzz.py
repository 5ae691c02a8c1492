"""Five hundred damaged files: none crashes the reader, none holds it up."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from recorded_files import coded, short_take, wav_of

FILES = 500
BATCH = 250
LONGEST = 5.0  # seconds for one file, from the project's goals
PROGRAM = Path(__file__).with_name("damaged_recordings.py")


def test_damaged_files_are_read_or_refused_without_crash_or_hang(tmp_path: Path) -> None:
    wav = wav_of(tmp_path, short_take(1.0), "whole.wav")
    for ending in ("flac", "mp3", "ogg", "m4a"):
        coded(wav, f"whole.{ending}")
    coded(wav, "whole.webm", "-c:a", "libopus")
    coded(wav, "whole.mp4", "-c:v", "mpeg4", "-c:a", "aac", "-t", "1", film=0.0)
    outcomes: list[str] = []
    for first in range(0, FILES, BATCH):
        command = [sys.executable, str(PROGRAM), str(tmp_path), str(first), str(first + BATCH)]
        done = subprocess.run(command, capture_output=True, text=True, timeout=BATCH * LONGEST)
        lines = done.stdout.splitlines()
        assert done.returncode == 0, f"{lines[-1:]} {done.stderr[-2000:]}"
        for line in lines:
            number, ending, seconds, outcome = line.split(maxsplit=3)
            assert outcome in ("read", "unreadable"), f"{number}{ending}: {outcome}"
            assert float(seconds) < LONGEST, f"{number}{ending} took {seconds} s"
            outcomes.append(outcome)
    assert len(outcomes) == FILES
    assert outcomes.count("read") > FILES / 4 and outcomes.count("unreadable") > FILES / 20
