"""A tuning as a file that every command can use: what `harp.tunings.read_tuning` reads.

Public: `tuning_toml`, `save_tuning`, `check_place`.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from reedwright.errors import ReedwrightError
from reedwright.files import write_whole
from reedwright.harp.model import Tuning
from reedwright.harp.naming import KEYS, spell
from reedwright.harp.tunings import SHIPPED_NAMES, read_tuning

_HOME = "C"  # tunings are held as they lie on the harp whose first position is C


class NoTuningFile(ReedwrightError):
    """The name given cannot be that of a tuning file."""


def tuning_toml(tuning: Tuning) -> str:
    """The text of the file. The name is not in it: a tuning bears its file's name."""
    import tomlkit

    values: dict[str, object] = {
        "title": tuning.title,
        "description": tuning.description,
        "blow": _notes(tuning.blow),
        "draw": _notes(tuning.draw),
    }
    if tuning.first_position:
        values["label"] = KEYS[(KEYS.index(_HOME) - tuning.first_position) % 12]
    if tuning.slide:
        values["slide"] = tuning.slide
    if tuning.blow_slide:
        values["blow_slide"] = _notes(tuning.blow_slide)
    if tuning.draw_slide:
        values["draw_slide"] = _notes(tuning.draw_slide)
    if tuning.valves != "none":
        values["valves"] = tuning.valves
    if tuning.source:
        values["source"] = tuning.source
    return tomlkit.dumps(values)


def check_place(path: Path) -> None:
    """Raises `NoTuningFile` where the name cannot be that of a tuning of one's own."""
    if path.suffix != ".toml":
        raise NoTuningFile(
            f"{path}: a tuning is saved as a .toml file; its name without that is the tuning's."
        )
    if path.stem in SHIPPED_NAMES:
        raise NoTuningFile(
            f"{path}: '{path.stem}' is a tuning that comes with Reedwright; choose another name."
        )


def save_tuning(tuning: Tuning, path: Path, title: str | None = None) -> Tuning:
    """Write the file and read it back, so that what is told is what others will use.

    `title`: how the harp is called in print, instead of the tuning's own. Raises
    `NoTuningFile`, `NotWritten`.
    """
    check_place(path)
    named = tuning if title is None else replace(tuning, title=title)
    write_whole(path, tuning_toml(named).encode())
    return read_tuning(path)


def _notes(midis: tuple[int, ...]) -> str:
    return " ".join(spell(midi, _HOME) for midi in midis)
