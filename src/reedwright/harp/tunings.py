"""Tunings: the layouts that come with the project and the user's own, from TOML files.

The user's files stand in the `tunings` folder of the configuration folder, or in the folder
that the environment variable `REEDWRIGHT_TUNINGS` names (see `datafiles`). The format is
described in docs/harps.md.

Public: `all_tunings`, `find_tuning`, `read_tuning`, `TuningError`.
"""

from __future__ import annotations

from pathlib import Path

from reedwright.datafiles import (
    TomlFile,
    did_you_mean,
    files_by_name,
    is_path,
    read_toml,
    user_folders,
)
from reedwright.errors import ReedwrightError
from reedwright.harp.model import Tuning
from reedwright.harp.naming import key_pitch_class, parse_key, parse_note

FOLDER_VARIABLE = "REEDWRIGHT_TUNINGS"
SHIPPED = Path(__file__).with_name("data")
SHIPPED_NAMES = (
    "richter",
    "richter-raised-3-blow",
    "richter-raised-5-draw",
    "richter-raised-3-blow-5-draw",
    "richter-lowered-7-draw",
    "natural-minor",
    "harmonic-minor",
    "solo",
    "slide-solo-12",
)

VALVES_AS_MADE = ("none", "half", "full")
_TEXT_KEYS = ("title", "description", "blow", "draw", "home", "label", "valves", "source")
_SLIDE_KEYS = ("blow_slide", "draw_slide")
_KEYS = (*_TEXT_KEYS, *_SLIDE_KEYS, "slide")
_NEEDED = ("title", "blow", "draw")

# What is still a harmonica: sanity limits, wider than any made harp (from memory).
FEWEST_HOLES, MOST_HOLES = 1, 24
LOWEST_REED, HIGHEST_REED = 31, 108  # G1 and C8
MOST_SLIDE = 2  # semitones


class TuningError(ReedwrightError):
    """A tuning that does not exist, or a tuning file that cannot be used."""


def all_tunings() -> dict[str, Tuning]:
    """Every tuning by name: the shipped ones in a fixed order, then the user's by name.

    Raises `TuningError` where a user's file cannot be used or two have one name.
    """
    return {name: read_tuning(path) for name, path in _files().items()}


def find_tuning(name: str | Path) -> Tuning:
    """A tuning by its name, or from the file at a path. Raises `TuningError`."""
    text = str(name)
    if is_path(text):
        return read_tuning(Path(text).expanduser())
    files = _files()
    if text not in files:
        raise TuningError(
            f"there is no tuning named '{text}'{did_you_mean(text, files)}; give one of "
            f"{', '.join(files)}, or the path of a .toml file"
        )
    return read_tuning(files[text])


def read_tuning(path: Path) -> Tuning:
    """Read and check one tuning file. Raises `TuningError` with file, line and what to do."""
    return _Reader(path, read_toml(path, "tuning", TuningError)).tuning()


def _files() -> dict[str, Path]:
    shipped = (SHIPPED / f"{name}.toml" for name in SHIPPED_NAMES)
    folders = user_folders("tunings", FOLDER_VARIABLE)
    return files_by_name(shipped, folders, "tuning", TuningError)


class _Reader:
    """One file's values on their way to a `Tuning`; knows on which line each key stands."""

    def __init__(self, path: Path, file: TomlFile) -> None:
        self.path, self.file, self.values = path, file, file.values

    def tuning(self) -> Tuning:
        for key in self.values:
            if key not in _KEYS:
                hint = did_you_mean(key, _KEYS)
                raise self.error(key, f"unknown key '{key}'{hint}; a tuning has {', '.join(_KEYS)}")
        for key in _NEEDED:
            if key not in self.values:
                raise TuningError(f"{self.path}: the key '{key}' is missing; add it")
        blow, draw = self.reeds("blow"), self.reeds("draw")
        self.same_count("draw", len(draw), len(blow))
        home = self.key("home", "C")
        label = self.key("label", home)
        # From the ordinary harp in C up or down to the one in `home`.
        shift = (key_pitch_class(home) + 5) % 12 - 5
        slid = {key: self.slid(key, len(blow), shift) for key in _SLIDE_KEYS}
        return Tuning(
            name=self.path.stem,
            title=self.text("title"),
            description=self.text("description"),
            blow=tuple(midi - shift for midi in blow),
            draw=tuple(midi - shift for midi in draw),
            slide=self.slide(),
            first_position=(key_pitch_class(home) - key_pitch_class(label)) % 12,
            source=self.text("source"),
            blow_slide=slid["blow_slide"],
            draw_slide=slid["draw_slide"],
            valves=self.valves(),
        )

    def error(self, key: str, message: str) -> TuningError:
        return TuningError(f"{self.file.place(self.path, key)}: {message}")

    def text(self, key: str) -> str:
        value = self.values.get(key, "")
        if not isinstance(value, str):
            raise self.error(key, f"'{key}' must be text in quotation marks")
        return " ".join(value.split())

    def reeds(self, key: str) -> tuple[int, ...]:
        names = self.text(key).split()
        if not FEWEST_HOLES <= len(names) <= MOST_HOLES:
            raise self.error(
                key,
                f"'{key}' has {len(names)} notes; a harp has {FEWEST_HOLES} to {MOST_HOLES} holes, "
                "one note for each",
            )
        found = []
        for hole, name in enumerate(names, start=1):
            try:
                midi = parse_note(name)
            except ReedwrightError as error:
                raise self.error(key, f"hole {hole} {key}: {error}") from None
            if not LOWEST_REED <= midi <= HIGHEST_REED:
                raise self.error(
                    key, f"hole {hole} {key}: no reed sounds {name}; use G1 to C8 (C4 is middle C)"
                )
            found.append(midi)
        return tuple(found)

    def same_count(self, key: str, count: int, holes: int) -> None:
        if count != holes:
            raise self.error(
                key,
                f"'blow' has {holes} notes but '{key}' has {count}; "
                "give one note for each hole in both",
            )

    def key(self, key: str, default: str) -> str:
        if key not in self.values:
            return default
        try:
            return parse_key(self.text(key))
        except ReedwrightError as error:
            raise self.error(key, f"'{key}': {error}") from None

    def slide(self) -> int:
        value = self.values.get("slide", 0)
        if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= MOST_SLIDE:
            raise self.error(
                "slide", f"'slide' must be a whole number of semitones from 0 to {MOST_SLIDE}"
            )
        return value

    def slid(self, key: str, holes: int, shift: int) -> tuple[int, ...]:
        if key not in self.values:
            return ()
        if not self.slide():
            raise self.error(key, f"'{key}' is given but 'slide' is not; add slide = 1")
        reeds = self.reeds(key)
        self.same_count(key, len(reeds), holes)
        return tuple(midi - shift for midi in reeds)

    def valves(self) -> str:
        value = self.text("valves") or "none"
        if value not in VALVES_AS_MADE:
            raise self.error("valves", f"'valves' must be one of {', '.join(VALVES_AS_MADE)}")
        return value
