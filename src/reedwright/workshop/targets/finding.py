"""Which temperaments there are: those of `harp.temperament`, by chords, and the user's own.

A user's own stand in the `temperaments` folder of the configuration folder, or in the folder that
the environment variable `REEDWRIGHT_TEMPERAMENTS` names (see `datafiles`); any other file is used
by giving its path. docs/reed-targets.md describes the format.

Public: `all_reed_temperaments`, `find_reed_temperament`.
"""

from __future__ import annotations

from pathlib import Path

from reedwright.datafiles import did_you_mean, files_by_name, is_path, user_folders
from reedwright.harp.temperament import TABLE, UnknownTemperament, all_temperaments
from reedwright.workshop.targets.reading import read_reed_temperament
from reedwright.workshop.targets.temperaments import ReedTemperament, TemperamentError

FOLDER_VARIABLE = "REEDWRIGHT_TEMPERAMENTS"
SHIPPED = Path(__file__).with_name("data")
SHIPPED_NAMES = (
    "chords-five",
    "chords-seven",
    "chords-five-half",
    "lowered-thirds",
)


def all_reed_temperaments() -> dict[str, ReedTemperament]:
    """Every temperament by name: equal and by the scale, then by chords, then the user's own.

    Raises `TemperamentError` where a user's file cannot be used or two have one name.
    """
    own = {name: read_reed_temperament(path) for name, path in _files().items()}
    return {**_by_the_scale(), **own}


def find_reed_temperament(name: str | Path) -> ReedTemperament:
    """A temperament by its name, or from the file at a path.

    Raises `UnknownTemperament` for a name that there is not, `TemperamentError` for a bad file.
    """
    text = str(name)
    if isinstance(name, Path) or is_path(text):
        return read_reed_temperament(Path(text).expanduser())
    scale = _by_the_scale()
    if text in scale:
        return scale[text]
    files = _files()
    if text not in files:
        known = (*scale, *files)
        raise UnknownTemperament(
            f"'{text}' is no temperament{did_you_mean(text, known)}; there are "
            f"{', '.join(known)}, or give the path of a .toml file"
        )
    return read_reed_temperament(files[text])


def _by_the_scale() -> dict[str, ReedTemperament]:
    return {
        name: ReedTemperament(name, each.title, each.description, each.source, notes=each.offsets)
        for name, each in all_temperaments().items()
    }


def _files() -> dict[str, Path]:
    shipped = (SHIPPED / f"{name}.toml" for name in SHIPPED_NAMES)
    folders = user_folders("temperaments", FOLDER_VARIABLE)
    found = files_by_name(shipped, folders, "temperament", TemperamentError)
    for name in all_temperaments():
        if name in found:
            raise TemperamentError(
                f"{found[name]}: there is already a temperament named '{name}', in {TABLE}; "
                "rename the file"
            )
    return found
