"""Data files in TOML by name: those that come with the project, and the user's own.

What such a file describes (a tuning, a player's profile) bears the file's name without
`.toml`. The user's files stand in a folder of the configuration folder, or in the folder
that an environment variable names; any other file is used by giving its path.

Public: `is_path`, `user_folders`, `files_by_name`, `read_toml`, `TomlFile`, `did_you_mean`.
"""

from __future__ import annotations

import difflib
import os
import re
import tomllib
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from reedwright.errors import ReedwrightError


def is_path(text: str) -> bool:
    """Whether a user who writes this means a file by its path, and not a name."""
    return text.endswith(".toml") or "/" in text or os.sep in text


def user_folders(kind: str, variable: str) -> tuple[Path, ...]:
    """Where a user's own files are looked for, whether the folders exist or not.

    `kind` is the folder's name (`tunings`), `variable` the environment variable that
    names another one, which goes first.
    """
    import platformdirs

    own = Path(platformdirs.user_config_dir("reedwright")) / kind
    named = os.environ.get(variable)
    return (Path(named), own) if named else (own,)


def files_by_name(
    shipped: Iterable[Path], folders: Iterable[Path], what: str, failure: type[ReedwrightError]
) -> dict[str, Path]:
    """Every file by the name of what it describes: the shipped ones as given, then the user's.

    Raises `failure` where two have one name: of two one would be passed over in silence.
    `what` is what the files describe, for the message.
    """
    found: dict[str, Path] = {}
    for path in (*shipped, *(path for folder in folders for path in sorted(folder.glob("*.toml")))):
        if path.stem in found and path != found[path.stem]:
            raise failure(
                f"{path}: there is already a {what} named '{path.stem}', in {found[path.stem]}; "
                "rename one of the files"
            )
        found[path.stem] = path
    return found


class TomlFile(NamedTuple):
    """A file as it was read: its text, for messages that name a line, and its values."""

    text: str
    values: dict[str, object]

    def place(self, path: Path, key: str, section: str = "") -> str:
        """`mine.toml, line 3`: where a key of a section stands, or the section that it names.

        Without `section` the key stands above all sections. The path alone where it is not found.
        """
        name = re.escape(key)
        inside = ""
        for number, line in enumerate(self.text.splitlines(), start=1):
            header = re.match(r"\s*\[+\s*[\"']?([^\"'\]]+?)[\"']?\s*\]", line)
            if header:
                inside = header[1].strip()
                found = not section and (inside == key or inside.startswith(f"{key}."))
            else:
                dotted = rf"{re.escape(section)}\s*\.\s*" if section and not inside else ""
                written = rf"\s*{dotted}[\"']?{name}[\"']?\s*[=.]"
                found = inside in ("", section) and bool(re.match(written, line))
            if found:
                return f"{path}, line {number}"
        return str(path)


def read_toml(path: Path, what: str, failure: type[ReedwrightError]) -> TomlFile:
    """One file, read again only when it has changed. Raises `failure` with file and reason."""
    try:
        return _read(path, path.stat().st_mtime_ns)
    except FileNotFoundError:
        raise failure(f"{path}: there is no such {what} file") from None
    except tomllib.TOMLDecodeError as error:
        raise failure(f"{path}: not a valid TOML file: {error}") from None
    except (OSError, UnicodeDecodeError) as error:
        raise failure(f"{path}: the {what} file cannot be read: {error}") from None


@lru_cache(maxsize=256)
def _read(path: Path, _changed: int) -> TomlFile:
    text = path.read_text(encoding="utf-8")
    return TomlFile(text, tomllib.loads(text))


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """`, did you mean 'title'?` where one of the known words is near, else nothing."""
    near = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f", did you mean '{near[0]}'?" if near else ""
