"""Measured slot sizes from a TOML file of the user's.

    title = "my C harp"
    hole_pitch = 7.5        # middle of a hole to the middle of the next; all in mm
    rivet_gap = 2.5         # from the slot's end to the rivet, on the side without reeds
    chamber_width = 5.2     # of the comb, from wall to wall
    blow_rivets = "front"   # riveted at the mouthpiece, or at the back
    draw_rivets = "back"

    [blow]                  # hole = [length, width]
    1 = [15.8, 2.2]
    10 = [9.1, 2.0]

    [draw]
    1 = [15.9, 2.2]

Every line may be left out; docs/valves.md says what stands in then.

Public: `read_slot_sizes`.
"""

from __future__ import annotations

import re
from pathlib import Path

from reedwright.datafiles import TomlFile, did_you_mean, read_toml
from reedwright.harp.model import Breath, Reed
from reedwright.harp.tunings import MOST_HOLES
from reedwright.workshop.valving.model import PlateMeasures, RivetEnd, Slot, SlotSizes, ValveError

# What can be a slot or a plate at all, mm: wider than any made harp (from memory).
LENGTHS, WIDTHS = (4.0, 40.0), (0.8, 5.0)
PLATE_LIMITS = {"hole_pitch": (4.0, 15.0), "rivet_gap": (0.0, 10.0), "chamber_width": (2.0, 14.0)}
_RIVETS = ("blow_rivets", "draw_rivets")
_KEYS = ("title", *PLATE_LIMITS, *_RIVETS, *(breath.value for breath in Breath))


def read_slot_sizes(path: Path) -> SlotSizes:
    """Read and check one file. Raises `ValveError` with file, line and what to do."""
    return _Reader(path, read_toml(path, "slot sizes", ValveError)).sizes()


class _Reader:
    """One file's values on their way to `SlotSizes`; finds the line that a value stands on."""

    def __init__(self, path: Path, file: TomlFile) -> None:
        self.path, self.file, self.values = path, file, file.values

    def sizes(self) -> SlotSizes:
        for key in self.values:
            if key not in _KEYS:
                hint = did_you_mean(key, _KEYS)
                raise self.error(
                    f"unknown key '{key}'{hint}; slot sizes have {', '.join(_KEYS)}", key
                )
        title = self.values.get("title", "")
        if not isinstance(title, str):
            raise self.error("'title' must be text in quotation marks", "title")
        slots = tuple(slot for breath in Breath for slot in self.plate(breath))
        return SlotSizes(slots, self.plates(), " ".join(title.split()))

    def plates(self) -> PlateMeasures:
        usual = PlateMeasures()
        numbers = {
            key: self.number(self.values[key], f"'{key}'", limits, key)
            for key, limits in PLATE_LIMITS.items()
            if key in self.values
        }
        ends = {key: self.rivet_end(key) for key in _RIVETS if key in self.values}
        pitch = numbers.get("hole_pitch", usual.hole_pitch)
        chamber = numbers.get("chamber_width", usual.chamber_width)
        if chamber >= pitch:
            key = "chamber_width" if "chamber_width" in numbers else "hole_pitch"
            raise self.error(
                f"chambers {chamber:g} mm wide leave no wall where holes are {pitch:g} mm apart; "
                "give both hole_pitch (middle to middle) and chamber_width (wall to wall)",
                key,
            )
        return PlateMeasures(
            hole_pitch=pitch,
            rivet_gap=numbers.get("rivet_gap", usual.rivet_gap),
            chamber_width=chamber,
            blow_rivets=ends.get("blow_rivets", usual.blow_rivets),
            draw_rivets=ends.get("draw_rivets", usual.draw_rivets),
            told=frozenset((*numbers, *ends)),
        )

    def plate(self, breath: Breath) -> list[Slot]:
        table = self.values.get(breath.value, {})
        if not isinstance(table, dict):
            raise self.error(
                f"'{breath.value}' must be a section: a line [{breath.value}], and below it lines "
                "such as 1 = [15.8, 2.2]",
                breath.value,
            )
        return [self.slot(breath, str(key), value) for key, value in table.items()]

    def slot(self, breath: Breath, key: str, value: object) -> Slot:
        where = f"{breath.value} slot of hole {key}"
        if not re.fullmatch(r"[1-9]\d?", key) or int(key) > MOST_HOLES:
            raise self.error(
                f"'{key}' in [{breath.value}] is not a hole; write lines such as 1 = [15.8, 2.2]",
                key,
                breath.value,
            )
        if not isinstance(value, list) or len(value) != 2:
            raise self.error(
                f"{where}: give length and width in mm, such as {key} = [15.8, 2.2]",
                key,
                breath.value,
            )
        length = self.number(value[0], f"{where}: the length", LENGTHS, key, breath.value)
        width = self.number(value[1], f"{where}: the width", WIDTHS, key, breath.value)
        return Slot(Reed(int(key), breath), length, width, measured=True)

    def number(
        self,
        value: object,
        what: str,
        limits: tuple[float, float],
        key: str,
        section: str = "",
    ) -> float:
        least, most = limits
        if (
            isinstance(value, bool)
            or not isinstance(value, int | float)
            or not least <= value <= most
        ):
            raise self.error(
                f"{what} must be millimetres from {least:g} to {most:g}, not {value!r}",
                key,
                section,
            )
        return float(value)

    def rivet_end(self, key: str) -> RivetEnd:
        value = self.values[key]
        if value not in list(RivetEnd):
            raise self.error(f"'{key}' must be front (the mouthpiece) or back, not {value!r}", key)
        return RivetEnd(str(value))

    def error(self, message: str, key: str, section: str = "") -> ValveError:
        return ValveError(f"{self.file.place(self.path, key, section)}: {message}")
