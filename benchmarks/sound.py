"""How fast the sound is made: seconds of track for each second of work, in one run.

Run: `python benchmarks/sound.py`. FluidSynth playing the same tune as MIDI from a General
MIDI soundfont into a file is timed in the same run as the yardstick, where both are
installed; its time includes its start and loading the soundfont.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path
from time import perf_counter

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.sound.events import Timeline
from reedwright.sound.loudness import levelled
from reedwright.sound.midi import write_midi
from reedwright.sound.mp3 import TrackTags, write_mp3
from reedwright.sound.rendering import Wanted, render_tracks
from reedwright.sound.timing import plan
from reedwright.sound.voice import RATE, render
from reedwright.tab.arrange import arrange
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes

TUNES = Path(__file__).parents[1] / "examples" / "tunes.abc"
# A small General MIDI soundfont, as Linux distributions install it.
SOUNDFONT = Path("/usr/share/sounds/sf2/TimGM6mb.sf2")
RUNS = 3


def best(work: object) -> float:
    """Least seconds of several runs."""
    assert callable(work)
    times = []
    for _ in range(RUNS):
        start = perf_counter()
        work()
        times.append(perf_counter() - start)
    return min(times)


def by_fluidsynth(timeline: Timeline, folder: Path) -> None:
    midi = folder / "t.mid"
    midi.write_bytes(write_midi(timeline, cuts=True))
    command = ["fluidsynth", "-ni", "-q", "-r", str(RATE), "-F", str(folder / "t.wav")]
    subprocess.run([*command, str(SOUNDFONT), str(midi)], check=True, stdout=subprocess.DEVNULL)


def main() -> None:
    tune = next(iter(read_tunes(TUNES)))
    assert isinstance(tune, Tune)
    harp = make_harp("G", "richter-raised-3-blow")
    arrangement = arrange(tune, harp, load_profile("player"))
    timeline = plan(arrangement)
    seconds = timeline.duration

    start = perf_counter()
    sound = render(timeline)
    cold = perf_counter() - start
    voice = best(lambda: render(timeline))
    level = best(lambda: levelled(sound, RATE))
    print(f"track of {seconds:.1f} s; times real time:")
    print(f"  timing                {seconds / best(lambda: plan(arrangement)):7.0f}")
    print(f"  voice, first run      {seconds / cold:7.0f}")
    print(f"  voice                 {seconds / voice:7.0f}")
    print(f"  loudness              {seconds / level:7.0f}")
    print(f"  voice and loudness    {seconds / (voice + level):7.0f}   (60 or more)")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "t.mp3"
        coding = best(lambda: write_mp3(sound, RATE, path, TrackTags("T")))
        print(f"  MP3 coding            {seconds / coding:7.0f}")
        print(f"  all, one thread       {seconds / (voice + level + coding):7.0f}")
        wanted = [Wanted(1.0, path), Wanted(0.55, Path(folder) / "slow.mp3")]
        start = perf_counter()
        total = sum(info.duration for info in render_tracks(arrangement, wanted))
        print(f"  full and slow track   {total / (perf_counter() - start):7.0f}   ({total:.0f} s)")
        if shutil.which("fluidsynth") and SOUNDFONT.exists():
            theirs = best(lambda: by_fluidsynth(timeline, Path(folder)))
            print(f"  FluidSynth            {seconds / theirs:7.0f}   (ours x{theirs / voice:.2f})")


if __name__ == "__main__":
    main()
