"""An evening as TOML that can be read, edited by hand and read again (docs/sets.md).

Public: `evening_toml`, `evening_from_toml`, `read_evening`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from reedwright.datafiles import TomlFile, did_you_mean, read_toml
from reedwright.errors import ReedwrightError
from reedwright.harp.making import parse_harp
from reedwright.harp.written import harp_text
from reedwright.tab.sets.model import Evening, SetEntry, TuneSet
from reedwright.tab.sets.naming import named_tune
from reedwright.tab.sets.wishes import SetsError
from reedwright.tune.model import Tune

_TOP = ("title", "set")
_OF_SET = ("name", "why", "tune")
_OF_TUNE = (
    "title", "number", "uid", "harp", "octaves", "semitones", "times", "effort", "why",
)  # fmt: skip
_DECIMALS = 4  # of effort a note


def evening_toml(evening: Evening, uid_of: Callable[[Tune], str] | None = None) -> str:
    """The evening as TOML. `uid_of`: what a tune is called on the shelf; empty for nothing."""
    import tomlkit

    document = tomlkit.document()
    document["title"] = evening.title
    sets = tomlkit.aot()
    for each in evening.sets:
        table = tomlkit.table()
        table["name"] = each.name
        if each.why:
            table["why"] = each.why
        tunes = tomlkit.aot()
        for entry in each.entries:
            tunes.append(tomlkit.item(_values(entry, uid_of)))
        table["tune"] = tunes
        sets.append(table)
    document["set"] = sets
    return tomlkit.dumps(document)


def _values(entry: SetEntry, uid_of: Callable[[Tune], str] | None) -> dict[str, object]:
    values: dict[str, object] = {"title": entry.tune.title}
    if entry.tune.number:
        values["number"] = entry.tune.number
    uid = uid_of(entry.tune) if uid_of is not None else ""
    if uid:
        values["uid"] = uid
    values["harp"] = harp_text(entry.harp)
    if entry.octaves:
        values["octaves"] = entry.octaves
    if entry.semitones:
        values["semitones"] = entry.semitones
    values["times"] = entry.times
    values["effort"] = round(entry.effort_per_note, _DECIMALS)
    if entry.why:
        values["why"] = entry.why
    return values


def read_evening(
    path: Path, tunes: Sequence[Tune], by_uid: Mapping[str, Tune] | None = None
) -> Evening:
    """The evening of a file, its tunes found among those given. Raises `SetsError`."""
    return _read(read_toml(path, "evening", SetsError), path, tunes, by_uid or {})


def evening_from_toml(
    text: str,
    tunes: Sequence[Tune],
    by_uid: Mapping[str, Tune] | None = None,
    name: str = "evening",
) -> Evening:
    """The same from a text; `name` for messages. Raises `SetsError`.

    A tune is found by its `uid`, else by title and number, else by either of them alone.
    """
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SetsError(f"{name}: not a valid TOML file: {error}") from None
    return _read(TomlFile(text, values), Path(name), tunes, by_uid or {})


def _read(file: TomlFile, path: Path, tunes: Sequence[Tune], by_uid: Mapping[str, Tune]) -> Evening:
    _known(file.values, _TOP, str(path))
    sets = []
    for number, each in enumerate(_tables(file.values, "set", str(path)), start=1):
        where = f"{path}, set {number}"
        _known(each, _OF_SET, where)
        entries = [
            _entry(table, tunes, by_uid, f"{where}, tune {place}")
            for place, table in enumerate(_tables(each, "tune", where), start=1)
        ]
        name = _text(each, "name", where) or f"Set {number}"
        sets.append(TuneSet(name, tuple(entries), _text(each, "why", where)))
    if not any(each.entries for each in sets):
        raise SetsError(
            f"{path}: there are no tunes in this evening; write [[set]] and [[set.tune]]"
        )
    return Evening(_text(file.values, "title", str(path)) or "Evening", tuple(sets))


def _entry(
    table: Mapping[str, object], tunes: Sequence[Tune], by_uid: Mapping[str, Tune], where: str
) -> SetEntry:
    _known(table, _OF_TUNE, where)
    written = _text(table, "harp", where)
    if not written:
        raise SetsError(f'{where}: no harp; write harp = "G" or another')
    try:
        harp = parse_harp(written)
        tune = _tune(table, tunes, by_uid, where)
    except ReedwrightError as error:
        raise SetsError(f"{where}: {str(error).removeprefix(f'{where}: ')}") from None
    times = _whole(table, "times", where, 3)
    if times < 1:
        raise SetsError(f"{where}: 'times' must be 1 or more")
    effort = table.get("effort", 0.0)
    if isinstance(effort, bool) or not isinstance(effort, int | float):
        raise SetsError(f"{where}: 'effort' must be a number")
    return SetEntry(
        tune,
        harp,
        _whole(table, "octaves", where, 0),
        _whole(table, "semitones", where, 0),
        float(effort),
        times,
        _text(table, "why", where),
    )


def _tune(
    table: Mapping[str, object], tunes: Sequence[Tune], by_uid: Mapping[str, Tune], where: str
) -> Tune:
    uid = _text(table, "uid", where)
    if uid in by_uid:
        return by_uid[uid]
    title = _text(table, "title", where)
    number = table.get("number", "")
    if isinstance(number, int) and not isinstance(number, bool):
        number = str(number)
    if not isinstance(number, str):
        raise SetsError(f"{where}: 'number' must be text in quotation marks")
    both = [tune for tune in tunes if title in tune.titles and tune.number == number]
    if title and number and len(both) == 1:
        return both[0]
    if not title and not number:
        raise SetsError(f"{where}: which tune? Write its title or its number")
    return tunes[named_tune(tunes, title or number)]


def _known(values: Mapping[str, object], keys: Sequence[str], where: str) -> None:
    for key in values:
        if key not in keys:
            near = did_you_mean(key, keys) or f"; there are {', '.join(keys)}"
            raise SetsError(f"{where}: there is no '{key}'{near}")


def _tables(values: Mapping[str, object], key: str, where: str) -> list[Mapping[str, object]]:
    found = values.get(key, [])
    if not isinstance(found, list) or not all(isinstance(each, Mapping) for each in found):
        raise SetsError(f"{where}: write each {key} under a line [[{key}]] of its own")
    return found


def _text(values: Mapping[str, object], key: str, where: str) -> str:
    value = values.get(key, "")
    if not isinstance(value, str):
        raise SetsError(f"{where}: '{key}' must be text in quotation marks")
    return value


def _whole(values: Mapping[str, object], key: str, where: str, default: int) -> int:
    value = values.get(key, default)
    if isinstance(value, bool) or not isinstance(value, int):
        raise SetsError(f"{where}: '{key}' must be a whole number")
    return value
