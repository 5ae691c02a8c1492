"""How well recordings are heard, beside librosa's pYIN and Praat's autocorrelation, in one run.

Run: `python benchmarks/hearing.py [tunes] [seed]`. Excerpts of 20 s of 60 tunes of the 1850
collection, played by a General MIDI soundfont's harmonica, with pink noise 40, 20 and 10 dB
under; see tests/sound/hearing_sample.py and hearing_judges.py for what is asked and how it is
judged. Then the time for three minutes and the memory for an hour.
"""

# ruff: noqa: E402
from __future__ import annotations

import multiprocessing
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from time import process_time

os.environ.setdefault("OMP_NUM_THREADS", "1")
for room in ("takes", "sound"):
    sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / room))

import librosa
import mir_eval
import numpy as np
import numpy.typing as npt
import parselmouth
from hearing_judges import NoteMarks, TrackMarks, heard_marks, track_marks
from hearing_sample import Excerpt, excerpts, noisy
from soundfont_takes import RATE, Sound

from reedwright.sound.hearing.listening import WANTED_RATE, hear, hear_sound
from reedwright.sound.hearing.model import Array32

Track = tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]  # seconds, Hz

NOISES = (20.0, 10.0, 40.0)  # dB under
GOAL = 20.0  # the noise that the goals are set at: pYIN, ten times slower, is asked there only
SECONDS = 20.0  # of each tune
TO_SPARE = 3.0  # semitones: both references are told the tune's range and so much about it
HOP = 0.01  # seconds, of Praat's frames; pYIN's are 256 of 22 050 Hz


def by_pyin(sound: Sound, low: float, high: float) -> Track:
    """pYIN (Mauch, Dixon 2014); its guesses count also where it hears no voice.

    Windows of 1,024 frames (46 ms), half its usual, which suit quick notes better.
    """
    coarse = librosa.resample(sound, orig_sr=RATE, target_sr=22_050)
    hz, voiced, _ = librosa.pyin(
        coarse, fmin=low, fmax=high, sr=22_050, frame_length=1024, hop_length=256, fill_na=None
    )
    return np.arange(len(hz)) * 256 / 22_050, np.where(voiced, hz, -hz)


def by_praat(sound: Sound, low: float, high: float) -> Track:
    """Praat's `To Pitch (ac)` (Boersma 1993) with its usual settings but for floor and ceiling."""
    pitch = parselmouth.Sound(sound.astype(np.float64), RATE).to_pitch_ac(
        time_step=HOP, pitch_floor=low, pitch_ceiling=high
    )
    return pitch.xs(), pitch.selected_array["frequency"]


def tune_range(take: Excerpt) -> tuple[float, float]:
    midi = [note.midi for note in take.notes]
    low, high = min(midi) - TO_SPARE, max(midi) + TO_SPARE
    return 440 * 2 ** ((low - 69) / 12), 440 * 2 ** ((high - 69) / 12)


def judge(takes: list[Excerpt], noise: float) -> None:
    tracks: dict[str, list[TrackMarks]] = {"Reedwright": [], "pYIN": [], "Praat": []}
    times = dict.fromkeys(tracks, 0.0)
    marks: list[NoteMarks] = []
    off: list[float] = []
    for k, take in enumerate(takes):
        sound = noisy(take, noise, k)
        seconds = len(sound) / RATE
        begun = process_time()
        heard = hear_sound(sound, RATE)
        times["Reedwright"] += process_time() - begun
        track, notes = heard_marks(take.notes, heard)
        tracks["Reedwright"].append(track)
        marks.append(notes)
        off.append(abs(1200 * float(np.log2(heard.a4 / 440)) - take.cents))
        references = {"Praat": by_praat} | ({"pYIN": by_pyin} if noise == GOAL else {})
        for name, reference in references.items():
            begun = process_time()
            moments, hz = reference(sound, *tune_range(take))
            times[name] += process_time() - begun
            tracks[name].append(track_marks(take.notes, seconds, moments, hz))
    total = sum(len(take.sound) for take in takes) / RATE
    print(f"\nnoise {noise:.0f} dB under, {len(takes)} tunes, {total / 60:.0f} minutes")
    print("  track          raw pitch   of nominal   voicing recall   false alarm   s per minute")
    for name, rows in tracks.items():
        if not rows:
            continue
        raw, nominal, recall, false_alarm = np.mean(rows, axis=0)
        print(
            f"  {name:12}   {raw:9.4f}   {nominal:10.4f}   {recall:14.3f}   {false_alarm:11.3f}"
            f"   {times[name] / total * 60:12.2f}"
        )
    f, precision, recall = np.mean([each.onset for each in marks], axis=0)
    print(f"  onsets   F {f:.4f}  precision {precision:.4f}  recall {recall:.4f}   (F 0.95)")
    f, precision, recall = np.mean([each.note for each in marks], axis=0)
    plain = np.mean([each.plain_f for each in marks])
    worst = min(each.note[0] for each in marks)
    print(
        f"  notes    F {f:.4f}  precision {precision:.4f}  recall {recall:.4f}   (F 0.93)"
        f"   worst tune {worst:.3f}   graces not asked for: F {plain:.4f}"
    )
    found, there = np.sum([each.graces for each in marks], axis=0)
    errors = 1000 * np.concatenate([each.onset_errors for each in marks])
    print(
        f"  graces {found} of {there}; onsets off by {np.median(errors):.1f} ms in the median,"
        f" {np.percentile(np.abs(errors), 95):.1f} ms at most in 95 %"
    )
    cents = np.concatenate([each.cents for each in marks])
    print(
        f"  held notes off by {np.median(np.abs(cents)):.2f} cents in the median,"
        f" {np.percentile(np.abs(cents), 95):.2f} in 95 %   (2)"
        f"   reference pitch {np.median(off):.2f}, at most {max(off):.2f} cents off"
    )


def speed(take: Excerpt) -> None:
    sound = np.tile(noisy(take, 20.0, 1), 10)[: 180 * RATE]
    hear_sound(sound[: 5 * RATE], RATE)
    for rate, part in ((RATE, sound), (WANTED_RATE, librosa.resample(
        sound, orig_sr=RATE, target_sr=WANTED_RATE))):  # fmt: skip
        begun = process_time()
        hear_sound(part, rate)
        print(f"three minutes at {rate} Hz heard in {process_time() - begun:.2f} s   (5)")


def an_hour(sound: Sound) -> None:
    def blocks() -> Iterator[Array32]:
        for _ in range(round(3600 * RATE / len(sound))):
            yield sound

    before = peak_memory()
    begun = process_time()
    heard = hear(blocks(), RATE)
    print(
        f"an hour: {len(heard.notes)} notes in {process_time() - begun:.0f} s, peak memory"
        f" {peak_memory()} MB, {before} of it before   (600 MB)"
    )


def peak_memory() -> int:
    """The most this process has held, in MB, as Linux tells."""
    status = Path("/proc/self/status").read_text()
    return int(status.split("VmHWM:")[1].split()[0]) // 1024


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 60
    print(
        f"librosa {librosa.__version__}, parselmouth {parselmouth.VERSION} (Praat"
        f" {parselmouth.PRAAT_VERSION}), mir_eval {mir_eval.__version__}"
    )
    takes = list(excerpts(count, seed, SECONDS))
    for noise in NOISES:
        judge(takes, noise)
    speed(takes[0])
    # In a process of its own, so that its memory is its own.
    context = multiprocessing.get_context("spawn")
    hour = context.Process(target=an_hour, args=(noisy(takes[0], 20.0, 1),))
    hour.start()
    hour.join()


if __name__ == "__main__":
    main()
