"""Making a harp from what a player says: a key, a tuning, a register, valves.

Keys lie between G (lowest, hole 1 blow G3) and F sharp (highest, F#4) in the
ordinary register; low and high harps lie an octave beyond (common practice).

Public: `make_harp`, `parse_harp`, `parse_harps`, `parse_valves`, `made_harps`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Breath, Harp, Reed, Tuning
from reedwright.harp.naming import A4_HZ, KEYS, key_pitch_class, parse_key
from reedwright.harp.tunings import find_tuning

REGISTERS = {"low": -12, "ordinary": 0, "high": 12}

# Low and high harps that makers offer besides the twelve ordinary keys (common practice).
LOW_KEYS = ("C", "Db", "D", "Eb", "E", "F", "F#")
HIGH_KEYS = ("G", "Ab", "A")

AS_MADE = "as made"


class HarpError(ReedwrightError):
    """A harp description that cannot be understood."""


def make_harp(
    key: str,
    tuning: Tuning | str | Path = "richter",
    register: str = "ordinary",
    valves: str | Iterable[Reed] = AS_MADE,
    a4: float = A4_HZ,
) -> Harp:
    """The harp in a key (as the trade prints it) and tuning.

    `valves` is "as made" (none, but full on a slide harp), "none", "half", "full",
    a list such as "blow 1-6, draw 7 8" of isolated reeds, or the reeds themselves.
    `a4` is the pitch of A4 in Hz. Raises `HarpError`, `NoteNameError` or `TuningError`.
    """
    layout = tuning if isinstance(tuning, Tuning) else find_tuning(tuning)
    label = parse_key(key)
    if register not in REGISTERS:
        raise HarpError(f"'{register}' is not a register; use {', '.join(REGISTERS)}")
    home = key_pitch_class(label) + layout.first_position
    transpose = (home + 5) % 12 - 5 + REGISTERS[register]
    isolated = parse_valves(valves, layout) if isinstance(valves, str) else frozenset(valves)
    return Harp(layout, label, transpose, register, isolated, a4)


def parse_harp(
    text: str,
    tuning: Tuning | str | Path | None = None,
    register: str | None = None,
    valves: str | None = None,
) -> Harp:
    """A harp as written on a command line: `G`, `low D`, `G:richter-raised-3-blow:half`.

    What stands in `text` goes before the other arguments.
    """
    head, *rest = (part.strip() for part in text.split(":"))
    if len(rest) > 2:
        raise HarpError(f"'{text}' has too many colons; write key:tuning:valves")
    words = head.split()
    for word in [*words[:1], *words[-1:]] if len(words) > 1 else []:
        if word.lower() in REGISTERS:
            register = word.lower()
            words.remove(word)
            break
    return make_harp(
        " ".join(words),
        (rest[0] if rest and rest[0] else None) or tuning or "richter",
        register or "ordinary",
        (rest[1] if len(rest) > 1 and rest[1] else None) or valves or AS_MADE,
    )


def parse_harps(text: str) -> tuple[Harp, ...]:
    """The harps that somebody owns: `C, G:richter-raised-3-blow, low D`. Doubles are dropped."""
    harps = [parse_harp(part) for part in re.split(r"[,;\n]", text) if part.strip()]
    if not harps:
        raise HarpError("no harp is named; write a list such as 'C, G, low D'")
    return tuple(dict.fromkeys(harps))


def parse_valves(text: str, tuning: Tuning) -> frozenset[Reed]:
    """Which reeds are isolated: "none", "half", "full", "as made" or a list of reeds.

    A list names the reeds that gain, `blow 1-6, draw 7 8`: the valve of a blow reed
    sits over the draw slot of its hole, and the other way about.
    """
    words = text.strip().lower()
    if words in (AS_MADE, ""):
        words = tuning.valves
    if words == "none":
        return frozenset()
    holes = range(1, tuning.holes + 1)
    if words == "full":
        return frozenset(Reed(hole, breath) for hole in holes for breath in Breath)
    if words == "half":
        return tuning.lower_reeds
    return listed_reeds(text, tuning, "valves", "none, half, full or a list of reeds")


def made_harps(tunings: Iterable[Tuning]) -> tuple[Harp, ...]:
    """Every harp that can be had in these tunings: twelve keys, and low and high where sensible."""
    found = []
    for tuning in tunings:
        found += [make_harp(key, tuning) for key in KEYS]
        found += [make_harp(key, tuning, "low") for key in LOW_KEYS]
        found += [make_harp(key, tuning, "high") for key in HIGH_KEYS]
    return tuple(found)


def listed_reeds(
    text: str, tuning: Tuning, option: str, forms: str = "a list of reeds"
) -> frozenset[Reed]:
    """The reeds of a list, `blow 1-6, draw 7 8`. Raises `HarpError`, which begins with `option`.

    `forms`: what may be written, for the message.
    """
    help_text = f"write {forms} such as 'blow 1-6, draw 7 8'"
    found: set[Reed] = set()
    breath: Breath | None = None
    for word in re.sub(r"\s*[-–]\s*", "-", text.lower()).replace(",", " ").split():
        if word in ("blow", "draw"):
            breath = Breath(word)
            continue
        match = re.fullmatch(r"(\d{1,3})(?:-(\d{1,3}))?", word)
        if match is None:
            raise HarpError(f"{option}: '{word}' is not understood; {help_text}")
        if breath is None:
            raise HarpError(f"{option}: say blow or draw before '{word}'; {help_text}")
        first, last = int(match[1]), int(match[2] or match[1])
        if last < first:
            raise HarpError(f"{option}: write '{word}' the other way round, {last}-{first}")
        if not 1 <= first <= last <= tuning.holes:
            raise HarpError(f"{option}: there is no hole {word}; holes are 1 to {tuning.holes}")
        found |= {Reed(hole, breath) for hole in range(first, last + 1)}
    if not found:
        raise HarpError(f"{option}: '{text}' names no reed; {help_text}")
    return frozenset(found)
