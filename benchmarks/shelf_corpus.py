"""A large library of tunes to try the shelf on, made from the collections that music21 ships.

    python benchmarks/shelf_corpus.py FOLDER [--tunes 50000] [--seed N]

A part of the tunes are the collections' own, their text as it stands in `originals/`, in files
as the collections have them. The others are settings of these, made by lot (`shelf_variants`):
two thirds as tunebooks in `tunebooks/`, a sixth as single files in nested folders of `singles/`,
a sixth in `more.zip`, in folders, too. `variants.tsv` says for each tune where it came from. The
same seed and number give the same library.

Public: `make_corpus`, `originals`, `Entry`.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
import zipfile
from collections import defaultdict
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.tune.abc import write_abc
from reedwright.tune.abc.splitting import RawTune, split_tunebook
from reedwright.tune.abc.tune import read_tune
from reedwright.tune.reading import decoded_lines
from shelf_variants import renamed, varied, varied_title

SEED = 2026
SHARE_OF_ORIGINALS = 0.25
IN_A_BOOK = 200  # tunes
IN_A_FOLDER = 50  # single files
CHUNK = 250
MANIFEST = "variants.tsv"
ZIP = "more.zip"
_DATED = (2026, 1, 1, 0, 0, 0)


class Source(NamedTuple):
    """One tune of the shipped collections: its file (from `corpus/` on), and which one in it."""

    file: str
    place: int
    raw: RawTune


class Entry(NamedTuple):
    """A line of `variants.tsv`. `kinds` is empty for an original.

    `file` is the path from the library's folder; for a tune in the zip, `more.zip/path`.
    `original` is `file:number of the tune in it from 1`, of music21's corpus.
    """

    file: str
    number: str
    title: str
    original: str
    kinds: tuple[str, ...]

    def line(self) -> str:
        texts = (self.file, self.number, self.title, self.original, ",".join(self.kinds))
        return "\t".join(text.replace("\t", " ") for text in texts)


def originals(collections: Sequence[str] = ()) -> list[Source]:
    """Every tune of every ABC file that music21 ships, cut but not read.

    `collections`: of these folders of its corpus alone.
    """
    import music21

    corpus = Path(music21.__file__).parent / "corpus"
    found: list[Source] = []
    folders = [corpus / each for each in collections] or [corpus]
    for path in sorted(file for folder in folders for file in folder.rglob("*.abc")):
        with path.open("rb") as file:
            raws = list(split_tunebook(decoded_lines(file)))
        name = path.relative_to(corpus).as_posix()
        found += [Source(name, place, raw) for place, raw in enumerate(raws, start=1)]
    return found


def make_corpus(
    folder: Path,
    tunes: int = 50_000,
    seed: int = SEED,
    workers: int | None = None,
    collections: Sequence[str] = (),
) -> list[Entry]:
    """Write the library; `folder` is made. Returns what is in `variants.tsv`.

    `collections`: from these alone (see `originals`).
    """
    chance = random.Random(seed)
    every = originals(collections)
    count = min(len(every), max(1, round(SHARE_OF_ORIGINALS * tunes)))
    chosen = sorted(chance.sample(range(len(every)), count))
    folder.mkdir(parents=True, exist_ok=True)
    entries = list(_write_originals(folder, [every[at] for at in chosen]))
    tasks = []
    left = tunes - len(entries)
    while left > 0:
        size = min(CHUNK, left)
        sources = [every[chance.choice(chosen)] for _ in range(2 * size)]
        tasks.append((sources, size, chance.randrange(2**32)))
        left -= size
    made: list[tuple[str, Entry]] = []
    if workers == 1 or len(tasks) < 4:
        for task in tasks:
            made += _variants(task)
    else:
        with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
            for chunk in pool.map(_variants, tasks):
                made += chunk
    entries += _write_variants(folder, made, chance)
    text = "file\tnumber\ttitle\toriginal\tkinds\n" + "".join(e.line() + "\n" for e in entries)
    (folder / MANIFEST).write_text(text, "utf-8")
    return entries


def read_manifest(folder: Path) -> list[Entry]:
    """What `variants.tsv` says."""
    lines = (folder / MANIFEST).read_text("utf-8").splitlines()[1:]
    parts = [line.split("\t") for line in lines]
    return [Entry(f, n, t, o, tuple(k.split(",")) if k else ()) for f, n, t, o, k in parts]


def _write_originals(folder: Path, chosen: Sequence[Source]) -> Iterator[Entry]:
    by_file: dict[str, list[Source]] = defaultdict(list)
    for source in chosen:
        by_file[source.file].append(source)
    for name, sources in by_file.items():
        path = folder / "originals" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        head = "".join(line.text + "\n" for line in sources[0].raw.file_header)
        texts = [source.raw.text.rstrip("\n") + "\n" for source in sources]
        path.write_text((head + "\n" if head else "") + "\n".join(texts), "utf-8")
        for source in sources:
            number, title = _named(source.raw)
            file = path.relative_to(folder).as_posix()
            yield Entry(file, number, title, _address(source), ())


def _variants(task: tuple[Sequence[Source], int, int]) -> list[tuple[str, Entry]]:
    """Text and entry of so many variants; sources that give none are passed over."""
    sources, size, seed = task
    chance = random.Random(seed)
    found: list[tuple[str, Entry]] = []
    for source in sources:
        if len(found) == size:
            break
        try:
            tune = read_tune(source.raw)
        except ReedwrightError:
            continue
        for _ in range(5):
            made = varied(tune, chance)
            if made is not None:
                break
        else:
            continue
        title = varied_title(tune.title, chance)
        text = write_abc(renamed(made[0], 0, title))
        found.append((text, Entry("", "", title, _address(source), made[1])))
    return found


def _write_variants(
    folder: Path, made: Sequence[tuple[str, Entry]], chance: random.Random
) -> Iterator[Entry]:
    books = len(made) * 2 // 3
    singles = books + len(made) // 6
    for start in range(0, books, IN_A_BOOK):
        part = made[start : min(start + IN_A_BOOK, books)]
        path = folder / "tunebooks" / f"book-{1 + start // IN_A_BOOK:03}.abc"
        path.parent.mkdir(parents=True, exist_ok=True)
        texts = [_numbered(text, number) for number, (text, _) in enumerate(part, start=1)]
        path.write_text("\n".join(texts), "utf-8")
        file = path.relative_to(folder).as_posix()
        for number, (_, entry) in enumerate(part, start=1):
            yield entry._replace(file=file, number=str(number))
    for at, (text, entry) in enumerate(made[books:singles]):
        file = f"singles/box-{at // IN_A_FOLDER // 10:02}/{at // IN_A_FOLDER:03}/tune-{at:05}.abc"
        path = folder / file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(_numbered(text, 1), "utf-8")
        yield entry._replace(file=file, number="1")
    with zipfile.ZipFile(folder / ZIP, "w", zipfile.ZIP_DEFLATED) as archive:
        for at, (text, entry) in enumerate(made[singles:]):
            name = f"shelf/{at // IN_A_FOLDER:03}/tune-{at:05}.abc"
            archive.writestr(zipfile.ZipInfo(name, _DATED), _numbered(text, 1))
            yield entry._replace(file=f"{ZIP}/{name}", number="1")


def _numbered(text: str, number: int) -> str:
    return f"X:{number}\n" + text.split("\n", 1)[1]


def _named(raw: RawTune) -> tuple[str, str]:
    """Number and first title as they stand in the text."""
    texts = [line.text for line in raw.lines]
    number = next((text[2:].strip() for text in texts if text.startswith("X:")), "1")
    title = next((text[2:].strip() for text in texts if text.startswith("T:")), "")
    return number, title


def _address(source: Source) -> str:
    return f"{source.file}:{source.place}"


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--tunes", type=int, default=50_000)
    parser.add_argument("--seed", type=int, default=SEED)
    chosen = parser.parse_args()
    start = time.perf_counter()
    entries = make_corpus(chosen.folder, chosen.tunes, chosen.seed)
    own = sum(not entry.kinds for entry in entries)
    print(
        f"{len(entries)} tunes, {own} of them originals, in {chosen.folder} "
        f"({time.perf_counter() - start:.0f} s)"
    )


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parent))
    main()
