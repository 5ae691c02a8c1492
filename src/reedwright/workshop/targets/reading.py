"""Reading a temperament from a TOML file, with messages that name the file and the line.

Exactly one rule stands in a file: `limit` (with `share`), `blow` and `draw`, `[roles]` (with
`[blow_roles]`, `[draw_roles]`), or `[notes]` (with `home`). See docs/reed-targets.md.

Public: `read_reed_temperament`.
"""

from __future__ import annotations

import re
from math import isfinite
from pathlib import Path

from reedwright.datafiles import did_you_mean, read_toml
from reedwright.errors import ReedwrightError
from reedwright.harp.model import Breath
from reedwright.harp.naming import key_pitch_class, parse_key, parse_note
from reedwright.harp.temperament import SEMITONES
from reedwright.workshop.targets.chords import LIMITS, ROLES
from reedwright.workshop.targets.temperaments import ReedTemperament, TemperamentError

# Further from equal temperament a reed is nearer to the next note.
MOST_CENTS = 50.0
MOST_HOLES = 24

_TEXT_KEYS = ("title", "description", "source")
_ROLE_TABLES = {"blow_roles": Breath.BLOW, "draw_roles": Breath.DRAW}
_KEYS = (*_TEXT_KEYS, "limit", "share", "blow", "draw", "roles", *_ROLE_TABLES, "notes", "home")
_RULES = ("limit", "blow", "roles", "notes")
_RULES_IN_WORDS = (
    "limit = 5 or 7, blow and draw with cents for each hole, a table [roles], or a table [notes]"
)


def read_reed_temperament(path: Path) -> ReedTemperament:
    """Read and check one file. Raises `TemperamentError` with file, line and what to do."""
    return _Reader(path).temperament()


class _Reader:
    """One file's values on their way to a `ReedTemperament`."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.file = read_toml(path, "temperament", TemperamentError)
        self.values = self.file.values

    def temperament(self) -> ReedTemperament:
        """What the file says. Raises `TemperamentError`."""
        for key in self.values:
            if key not in _KEYS:
                hint = did_you_mean(key, _KEYS)
                raise self.error(
                    key, f"unknown key '{key}'{hint}; a temperament has {', '.join(_KEYS)}"
                )
        if "title" not in self.values:
            raise TemperamentError(f"{self.path}: the key 'title' is missing; add it")
        rule = self.rule()
        return ReedTemperament(
            name=self.path.stem,
            title=self.text("title"),
            description=self.text("description"),
            source=self.text("source"),
            limit=self.limit() if rule == "limit" else 0,
            share=self.share(),
            roles=self.roles() if rule == "roles" else {},
            notes=self.notes() if rule == "notes" else (),
            reeds=self.reeds() if rule == "blow" else {},
            path=self.path,
        )

    def rule(self) -> str:
        """Which of the rules the file has. They do not mix: one reed would have two targets."""
        given = {
            "limit": ("limit",),
            "blow": ("blow", "draw"),
            "roles": ("roles", *_ROLE_TABLES),
            "notes": ("notes",),
        }
        found = [rule for rule in _RULES if any(key in self.values for key in given[rule])]
        if not found:
            raise TemperamentError(f"{self.path}: no cents are given; give {_RULES_IN_WORDS}")
        if len(found) > 1:
            second = next(key for key in given[found[1]] if key in self.values)
            raise self.error(second, f"'{second}' is one rule too many; give {_RULES_IN_WORDS}")
        for key, rule in (("share", "limit"), ("home", "notes")):
            if key in self.values and found[0] != rule:
                raise self.error(key, f"'{key}' belongs to '{rule}', which is not given")
        return found[0]

    def limit(self) -> int:
        value = self.values["limit"]
        if not isinstance(value, int) or isinstance(value, bool) or value not in LIMITS:
            raise self.error("limit", "'limit' must be 5 or 7")
        return value

    def share(self) -> float:
        value = self.values.get("share", 1.0)
        if not isinstance(value, int | float) or isinstance(value, bool) or not 0 < value <= 1:
            raise self.error(
                "share", "'share' must be above 0 and at most 1 (0.5: half of the way to pure)"
            )
        return float(value)

    def reeds(self) -> dict[Breath, tuple[float, ...]]:
        for key in ("blow", "draw"):
            if key not in self.values:
                raise TemperamentError(
                    f"{self.path}: the key '{key}' is missing; give cents for the reeds of both "
                    "breaths"
                )
        found = {breath: self.row(breath.value) for breath in Breath}
        if len(found[Breath.BLOW]) != len(found[Breath.DRAW]):
            raise self.error(
                "draw",
                f"'blow' has {len(found[Breath.BLOW])} numbers but 'draw' has "
                f"{len(found[Breath.DRAW])}; give one for each hole in both",
            )
        return found

    def row(self, key: str) -> tuple[float, ...]:
        """Cents for holes 1 and up: text with spaces between, or a list of numbers."""
        given = self.values[key]
        each: list[object] = list(given) if isinstance(given, list) else [*self.text(key).split()]
        if not 1 <= len(each) <= MOST_HOLES:
            raise self.error(
                key,
                f"'{key}' has {len(each)} numbers; give one for each of 1 to {MOST_HOLES} holes",
            )
        found = []
        for hole, value in enumerate(each, start=1):
            if isinstance(value, str):
                try:
                    value = float(value.replace("−", "-"))
                except ValueError:
                    raise self.error(
                        key,
                        f"hole {hole} {key}: '{value}' is no number of cents; write such as -13.7",
                    ) from None
            found.append(self.checked(key, f"hole {hole} {key}", value))
        return tuple(found)

    def roles(self) -> dict[Breath, dict[str, float]]:
        both = self.role_table("roles")
        return {breath: {**both, **self.role_table(key)} for key, breath in _ROLE_TABLES.items()}

    def role_table(self, table: str) -> dict[str, float]:
        found: dict[str, float] = {}
        for key, value in self.table(table).items():
            role = re.sub(r"[-_\s]+", " ", key.strip().lower())
            if role not in ROLES:
                raise self.error(
                    key,
                    f"[{table}]: '{key}' is no role{did_you_mean(role, ROLES)}; there are "
                    f"{', '.join(ROLES)}",
                    table,
                )
            if role in found:
                raise self.error(key, f"[{table}]: '{role}' stands there twice", table)
            found[role] = self.checked(key, f"[{table}] {role}", value, table)
        return found

    def notes(self) -> tuple[float, ...]:
        home = self.home()
        found: dict[int, float] = {}
        for key, value in self.table("notes").items():
            try:
                midi = parse_note(f"{key}4")
            except ReedwrightError:
                raise self.error(
                    key,
                    f"[notes]: '{key}' is no note name; write a letter and # or b if need be, "
                    'such as G or "F#", without an octave',
                    "notes",
                ) from None
            above = (midi - home) % SEMITONES
            if above in found:
                raise self.error(key, f"[notes]: the note '{key}' is given twice", "notes")
            found[above] = self.checked(key, f"[notes] {key}", value, "notes")
        return tuple(found.get(above, 0.0) for above in range(SEMITONES))

    def home(self) -> int:
        if "home" not in self.values:
            return 0
        try:
            return key_pitch_class(parse_key(self.text("home")))
        except ReedwrightError as error:
            raise self.error("home", f"'home': {error}") from None

    def table(self, name: str) -> dict[str, object]:
        value = self.values.get(name, {})
        if not isinstance(value, dict):
            raise self.error(name, f"'{name}' must be a table: a line [{name}], then its entries")
        return value

    def checked(self, key: str, place: str, value: object, table: str = "") -> float:
        if not isinstance(value, int | float) or isinstance(value, bool) or not isfinite(value):
            raise self.error(key, f"{place}: give a number of cents, such as -13.7", table)
        if abs(value) > MOST_CENTS:
            raise self.error(
                key,
                f"{place}: {value:g} cents is too far; give at most {MOST_CENTS:g} up or down, "
                "beyond that it is another note: a tuning, not a temperament",
                table,
            )
        return float(value)

    def text(self, key: str) -> str:
        value = self.values.get(key, "")
        if not isinstance(value, str):
            raise self.error(key, f"'{key}' must be text in quotation marks")
        return " ".join(value.split())

    def error(self, key: str, message: str, table: str = "") -> TemperamentError:
        """The error with the line of the key, in its table where it stands in one."""
        return TemperamentError(f"{self.file.place(self.path, key, table)}: {message}")
