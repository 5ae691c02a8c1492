"""Where histories are kept, and how entries are added so that none is ever lost.

One file a harp, in the `bench` folder of the user's data folder, or where REEDWRIGHT_BENCH says, or
where the caller says. An entry is added under a lock: the file is read, checked, the entry set at
its end, the whole checked and moved into place. A damaged file is refused and stays as it is.

Public: `bench_folder`, `start_history`, `open_history`, `histories`, `unreadable`,
`add_measurement`, `add_conversion`, `add_note`.
"""

from __future__ import annotations

import os
import unicodedata
from collections.abc import Iterable, Iterator
from datetime import datetime
from pathlib import Path

from reedwright.datafiles import did_you_mean, is_path
from reedwright.files import not_written, write_whole
from reedwright.folders.names import file_name, unused_file_name
from reedwright.harp.making import parse_harp
from reedwright.harp.model import Reed
from reedwright.workshop.history.locking import alone
from reedwright.workshop.history.model import (
    WHEN,
    Converted,
    Entry,
    HeardBeats,
    HeardReed,
    History,
    HistoryError,
    Measured,
    NoHistory,
    Noted,
)
from reedwright.workshop.history.reading import read_history
from reedwright.workshop.history.writing import entry_text, head_text
from reedwright.workshop.measuring.model import Measurement, ReedMeasure
from reedwright.workshop.targets.setting import beat_wish_words

VARIABLE = "REEDWRIGHT_BENCH"
LONGEST_NAME = 120  # characters


def bench_folder() -> Path:
    """Where histories are kept where the caller does not say; it need not exist."""
    import platformdirs

    named = os.environ.get(VARIABLE)
    return Path(named) if named else Path(platformdirs.user_data_dir("reedwright")) / "bench"


def start_history(name: str, harp: str, folder: Path | None = None) -> History:
    """Begin the history of a harp: its owner's name for it, and what it is (`parse_harp`).

    Raises `HistoryError` where the name is taken or cannot be one, `HarpError` for the harp.
    """
    wanted = " ".join(name.split())
    if not wanted or len(wanted) > LONGEST_NAME:
        raise HistoryError(f"name: a harp's name has 1 to {LONGEST_NAME} letters, such as 'red G'")
    text = head_text(wanted, _lasting(harp))
    place = folder or bench_folder()
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise not_written(place, error) from error
    with alone(place):
        there = _find(wanted, place)
        if there is not None:
            raise HistoryError(f"{there}: there is a history of '{wanted}' already")
        used = {path.stem for path in place.glob("*.toml")}
        path = place / f"{unused_file_name(_plain(wanted), '', used)}.toml"
        found = read_history(path, text)
        write_whole(path, text.encode("utf-8"))
    return found


def open_history(name: str, folder: Path | None = None) -> History:
    """The history of the harp of that name (large and small letters are alike).

    Raises `NoHistory`, or `HistoryError` where the file is damaged.
    """
    place = folder or bench_folder()
    path = _find(name, place)
    if path is None:
        known = [each.name for each in histories(place)]
        names = f" Histories are kept of: {', '.join(known)}." if known else ""
        raise NoHistory(
            f"{place}: there is no history of '{name}'{did_you_mean(name, known)}.{names} "
            "Begin one by saying which harp it is."
        )
    return _read(path)


def histories(folder: Path | None = None) -> tuple[History, ...]:
    """All histories that can be read, by name. See `unreadable` for the others."""
    found = [each for each in _all(folder or bench_folder()) if isinstance(each, History)]
    return tuple(sorted(found, key=lambda each: _key(each.name)))


def unreadable(folder: Path | None = None) -> tuple[str, ...]:
    """Why the files of the folder that cannot be read cannot be, a sentence each."""
    return tuple(
        str(each) for each in _all(folder or bench_folder()) if not isinstance(each, History)
    )


def add_measurement(
    history: History,
    measurement: Measurement,
    when: str = "check",
    note: str = "",
    date: datetime | None = None,
) -> History:
    """Add a measurement made `before` work, `after` it, or as a `check`.

    Returns the history as it is then, with what others added meanwhile.
    """
    if when not in WHEN:
        raise HistoryError(f"'{when}' is not understood; a measurement is {', '.join(WHEN)}")
    wishes = measurement.targets.wishes
    extra = [f"stretch {wishes.stretch:g} cents an octave"] if wishes.stretch else []
    extra += [f"{wishes.pressure:g} cents for pressure"] if wishes.pressure else []
    extra += [beat_wish_words(wish) for wish in wishes.beats]
    entry = Measured(
        date or _now(),
        when,
        tuple(_heard(each, measurement) for each in measurement.reeds),
        ", ".join([f"{wishes.temperament}, A {wishes.a4:g}", *extra]),
        measurement.at_bench,
        measurement.shift,
        tuple(
            HeardBeats((each.reed, each.upper), each.tone.beats.rate, each.tone.beats.uncertainty)
            for each in measurement.tones
            if each.reed and each.upper and each.tone.beats
        ),
        note.strip(),
    )
    return _add(history, entry)


def add_conversion(
    history: History,
    harp: str,
    works: Iterable[tuple[Reed, str]] = (),
    note: str = "",
    date: datetime | None = None,
) -> History:
    """Add that it was made another harp (`parse_harp`), and what was done to which reeds."""
    return _add(history, Converted(date or _now(), _lasting(harp), tuple(works), note.strip()))


def add_note(history: History, text: str, date: datetime | None = None) -> History:
    """Add a note in the user's words. Raises `HistoryError` where it is empty."""
    if not text.strip():
        raise HistoryError("note: there is nothing to note; write a few words")
    return _add(history, Noted(date or _now(), text.strip()))


def _add(history: History, entry: Entry) -> History:
    added = entry_text(entry)
    path = history.path.resolve()  # a link stays a link
    with alone(path.parent):
        text = _text(path)
        read_history(path, text)
        whole = text + ("" if text.endswith("\n") else "\n") + added
        try:
            after = read_history(path, whole)
        except HistoryError as error:
            raise HistoryError(
                f"{path}: an entry cannot be added behind what stands there, so nothing was. "
                f"Entries have to be written [[entry]], each with its own lines. ({error})"
            ) from None
        write_whole(path, whole.encode("utf-8"))
    return History(after.name, after.harp, history.path, after.entries)


def _text(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8")
    except FileNotFoundError:
        raise NoHistory(f"{path}: there is no such history") from None
    except UnicodeDecodeError as error:
        line = path.read_bytes().count(b"\n", 0, error.start) + 1
        raise HistoryError(
            f"{path}: line {line}: damaged: no text in UTF-8. Put back an earlier copy of the "
            "file; nothing was changed."
        ) from None
    except OSError as error:
        raise HistoryError(f"{path}: cannot be read ({error.strerror or error})") from None


def _read(path: Path) -> History:
    return read_history(path, _text(path))


def _all(place: Path) -> Iterator[History | HistoryError]:
    for path in sorted(place.glob("*.toml")):
        if path.name.startswith("."):
            continue
        try:
            yield _read(path)
        except HistoryError as error:
            yield error


def _find(name: str, place: Path) -> Path | None:
    """The file of that name's history; of a damaged one the file's name has to do."""
    for path in sorted(place.glob("*.toml")):
        if path.name.startswith("."):
            continue
        try:
            if _key(_read(path).name) == _key(name):
                return path
        except HistoryError:
            if path.stem == file_name(_plain(name)):
                return path
    return None


def _lasting(harp: str) -> str:
    """The harp's text, checked; a tuning file is named so that it is found from anywhere."""
    parse_harp(harp)
    key, *rest = (part.strip() for part in harp.split(":"))
    if rest and is_path(rest[0]):
        rest[0] = str(Path(rest[0]).resolve())
    return ":".join([key, *rest])


def _key(name: str) -> str:
    return unicodedata.normalize("NFKC", " ".join(name.split())).casefold()


def _plain(name: str) -> str:
    """What the file name is made of: a name without a Latin letter or a number is `harp`."""
    return name if file_name(name) != file_name("") else "harp"


def _heard(each: ReedMeasure, measurement: Measurement) -> HeardReed:
    target = measurement.targets.of(each.reed)
    return HeardReed(
        each.reed,
        each.hz,
        target.bench_hz if measurement.at_bench else target.hz,
        each.cents,
        each.uncertainty,
        each.wander,
        each.attack,
        each.level,
        each.tones,
        each.others,
    )


def _now() -> datetime:
    return datetime.now().astimezone()
