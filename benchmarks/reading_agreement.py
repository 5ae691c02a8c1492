"""Does our reading agree with abc2midi's? Played-out pitches and onsets, tune by tune.

    python benchmarks/reading_agreement.py [--show N] [--jobs N] [FILE.abc ...]

Without files: every ABC file of folk music that ships with music21. abc2midi (package abcmidi)
is the reference. A tune counts where abc2midi reports no error. What abc2midi plays
beyond the written notes is turned off: grace notes, fermatas, chord accompaniment,
and rolls, trills and staccato, whose signs are taken out of the text that it gets.
Dotted pairs are 3:1 as the standard says (abc2midi's own default is 2:1).
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import NamedTuple

from reedwright.tune.abc.splitting import RawTune, split_tunebook
from reedwright.tune.abc.tune import read_tune
from reedwright.tune.refused import UnreadableTune
from reedwright.tune.unfold import unfold

FLAGS = ("-RS", "-NGRA", "-NGUI", "-NFER", "-NFNP")
SECONDS = 20  # for one tune
GRID = 48  # onsets are compared to 1/48 of a quarter note...
TOLERANCE = 1  # ...give or take one such step: abc2midi's ticks are whole numbers
FOLDERS = (
    "oneills1850",
    "ryansMammoth",
    "airdsAirs",
    "essenFolksong",
    "miscFolk",
    "nottingham-dataset",
)

_FIELD = re.compile(r"[A-Za-z+]:(?![|:])")
_KEPT = re.compile(r'("[^"]*"|\[[A-Za-z]:[^\]]*\])')
_SIGNS = re.compile(r"![^!|\s]+!|\+[a-zA-Z.]+\+|[~H-Wh-w]|\.(?![|(])")

Played = list[tuple[int, int]]


class Outcome(NamedTuple):
    """How one tune compares. `verdict`: same, different, refused, or not read by abc2midi."""

    file: str
    number: str
    title: str
    verdict: str
    detail: str = ""


def collections() -> list[Path]:
    """The ABC files of folk music that music21 ships."""
    import music21

    corpus = Path(music21.__file__).parent / "corpus"
    return [file for folder in FOLDERS for file in sorted((corpus / folder).glob("*.abc"))]


def read_text(file: Path) -> str:
    data = file.read_bytes()
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def plain_text(raw: RawTune) -> str:
    """The tune without signs that abc2midi would play as further notes."""
    lines = [line.text for line in raw.file_header]
    lines += [line.text for line in raw.lines if line.text.strip()]
    plain = []
    for line in lines:
        if line.startswith(("X:", "I:")):
            if line.startswith("X:"):
                plain += [line, "%%MIDI chordattack 0"]  # the notes of a chord start together
            continue  # abc2midi calls an I: that it does not know an error
        if line.startswith("R:"):  # for hornpipes abc2midi has a dotted rhythm of its own
            continue
        if line.startswith("%%") or not (_FIELD.match(line) or line.startswith("%")):
            pieces = _KEPT.split(line)
            line = "".join(
                piece if at % 2 else _SIGNS.sub("", piece) for at, piece in enumerate(pieces)
            )
        plain.append(line)
    return "\n".join(line for line in plain if line.strip()) + "\n"


def reference(text: str) -> tuple[Played | None, str]:
    """What abc2midi plays for the first voice, or None and its errors."""
    import mido

    with tempfile.TemporaryDirectory() as folder:
        source, target = Path(folder) / "tune.abc", Path(folder) / "tune.mid"
        source.write_text(text, encoding="utf-8")
        try:
            done = subprocess.run(
                ["abc2midi", str(source), "-o", str(target), *FLAGS],
                capture_output=True,
                timeout=SECONDS,
                check=False,
            )
        except subprocess.TimeoutExpired:
            return None, "abc2midi did not end"
        told = done.stdout.decode("latin-1")
        errors = [line for line in told.splitlines() if line.startswith("Error")]
        if errors or not target.exists():
            return None, "; ".join(errors) or "no file"
        try:
            midi = mido.MidiFile(target)
        except (OSError, EOFError, ValueError, IndexError, KeyError):
            return None, "no MIDI file"
        for track in midi.tracks:
            now, played = 0, []
            for message in track:
                now += message.time
                if message.type == "note_on" and message.velocity:
                    played.append((round(now * GRID / midi.ticks_per_beat), message.note))
            if played:
                return sorted(played), ""
    return [], ""


def ours(raw: RawTune) -> Played | str:
    try:
        performance = unfold(read_tune(raw))
    except UnreadableTune as error:
        return str(error)
    return sorted((round(note.onset * GRID), note.pitch.midi) for note in performance.sounding)


def difference(mine: Played, theirs: Played) -> str:
    """Where two performances part, or nothing."""
    for at, (a, b) in enumerate(zip(mine, theirs, strict=False)):
        if a[1] != b[1] or abs(a[0] - b[0]) > TOLERANCE:
            return (
                f"note {at + 1}: ours {a[1]} at {a[0] / GRID:g}, theirs {b[1]} at {b[0] / GRID:g}"
            )
    if len(mine) != len(theirs):
        return f"ours {len(mine)} notes, theirs {len(theirs)}"
    return ""


def compare(raw: RawTune, file: str) -> Outcome:
    number = title = ""
    for line in raw.lines:
        if line.text.startswith("X:"):
            number = line.text[2:].strip()
        elif line.text.startswith("T:") and not title:
            title = line.text[2:].strip()
    theirs, errors = reference(plain_text(raw))
    mine = ours(raw)
    if theirs is None:
        return Outcome(file, number, title, "not read by abc2midi", errors)
    if isinstance(mine, str):
        return Outcome(file, number, title, "refused", mine)
    found = difference(_settled(mine), _settled(theirs))
    return Outcome(file, number, title, "different" if found else "same", found)


def _settled(played: Played) -> Played:
    """Notes that start together in order of pitch, though their onsets are a step apart."""
    result: Played = []
    group: Played = []
    for note in played:
        if group and note[0] - group[0][0] > TOLERANCE:
            result += sorted(group, key=lambda n: n[1])
            group = []
        group.append(note)
    return result + sorted(group, key=lambda n: n[1])


def compare_file(file: Path) -> list[Outcome]:
    lines = read_text(file).splitlines(keepends=True)
    return [compare(raw, f"{file.parent.name}/{file.name}") for raw in split_tunebook(lines)]


def outcomes(files: list[Path], jobs: int) -> Iterator[Outcome]:
    with ProcessPoolExecutor(jobs) as pool:
        for group in pool.map(compare_file, files):
            yield from group


def main() -> int:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("files", nargs="*", type=Path)
    options.add_argument("--show", type=int, default=20, help="differences to print")
    options.add_argument("--jobs", type=int, default=2)
    options.add_argument("--errors", action="store_true", help="print what abc2midi could not read")
    chosen = options.parse_args()
    files = chosen.files or collections()
    counts: Counter[tuple[str, str]] = Counter()
    shown = 0
    for outcome in outcomes(files, chosen.jobs):
        counts[outcome.file.split("/")[0], outcome.verdict] += 1
        wanted = outcome.verdict in ("different", "refused") or chosen.errors
        if wanted and outcome.verdict != "same" and shown < chosen.show:
            shown += 1
            print(*outcome, sep=" | ")
    for folder in sorted({folder for folder, _ in counts}):
        verdicts = {v: n for (f, v), n in counts.items() if f == folder}
        read = sum(n for v, n in verdicts.items() if v != "not read by abc2midi")
        same = verdicts.get("same", 0)
        print(f"{folder}: {same} of {read} agree ({100 * same / max(1, read):.2f} %)", verdicts)
    return 0


if __name__ == "__main__":
    sys.exit(main())
