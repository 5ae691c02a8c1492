"""A profile for people and as plain data: what the player has, and what differs from the base.

The shapes of the data are documented in docs/formats.md.

Public: `profile_lines`, `profile_text`, `profile_row`, `profile_report`, `came_from`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from reedwright.player.loading import Origin
from reedwright.player.lungs import Lungs, lungs_meanings
from reedwright.player.profile import TECHNIQUES, Profile, Weights, weight_meanings

_ANY_HARP = "not listed: any harp may be chosen"


def techniques_text(profile: Profile) -> str:
    """The techniques in the order of `TECHNIQUES`; `plain notes only` where there are none."""
    return ", ".join(_techniques(profile)) or "plain notes only"


def came_from(origin: Origin) -> str:
    """`comes with Reedwright`, or the file, and what it is made from."""
    where = "comes with Reedwright" if origin.shipped else str(origin.path)
    if origin.class_of:
        return f"{where}, class of {', '.join(origin.class_of)}"
    return f"{where}, based on {origin.base}" if origin.base else where


def profile_lines(found: Sequence[tuple[Profile, Origin]]) -> list[str]:
    """The list of profiles: two lines each."""
    width = max((len(profile.name) for profile, _ in found), default=0)
    lines = []
    for profile, origin in found:
        harps = f"; owns {', '.join(profile.harps)}" if profile.harps else ""
        title = f"{profile.title}: " if profile.title != profile.name.replace("-", " ") else ""
        lines.append(f"{profile.name:{width}}  {title}{techniques_text(profile)}{harps}")
        lines.append(f"{'':{width}}  ({came_from(origin)})")
    return lines


def profile_text(profile: Profile, origin: Origin, everything: bool = False) -> str:
    """A profile in full: what differs from what it starts from, or `everything`."""
    lines = [f"{profile.name}: {profile.title}"]
    if profile.description:
        lines.append(profile.description)
    lines += [
        "",
        f"techniques  {techniques_text(profile)}{_lacking(profile, origin)}",
        f"harps       {', '.join(profile.harps) or _ANY_HARP}",
        f"file        {origin.path}",
    ]
    if origin.class_of:
        lines.append(f"class of    {', '.join(origin.class_of)}")
    if origin.base:
        lines.append(f"based on    {origin.base}")
    start = f"'{origin.base}'" if origin.base else "the defaults"
    for what, mine, theirs, meanings in _tables(profile, origin):
        rows = [
            (name, _number(value), _number(theirs[name]), meanings[name])
            for name, value in mine.items()
            if everything or value != theirs[name]
        ]
        if not rows:
            lines += ["", f"{what}: as in {start}"]
            continue
        lines += ["", what if everything else f"{what} that differ from {start}"]
        name_width, value_width = (max(len(row[at]) for row in rows) for at in (0, 1))
        for name, value, was, meaning in rows:
            said = [] if value == was else [f"{'default' if origin.members else 'was'} {was}"]
            said += _whose(name, what, mine[name], origin) if value != was else []
            note = f" ({'; '.join(said)})" if said else ""
            lines.append(f"  {name:{name_width}}  {value:{value_width}}  {meaning}{note}")
    return "\n".join(lines)


def _lacking(profile: Profile, origin: Origin) -> str:
    """Of a class: what some have and the class has not, and who lacks it."""
    said = []
    for technique in TECHNIQUES:
        lack = [each.name for each in origin.members if not each.has(technique)]
        if not profile.has(technique) and 0 < len(lack) < len(origin.members):
            said.append(f"{technique}: not {', '.join(lack)}")
    return f" ({'; '.join(said)})" if said else ""


def _whose(name: str, what: str, value: float | tuple[float, ...], origin: Origin) -> list[str]:
    """Of a class: the members whose value it is."""
    of = [each.name for each in origin.members if getattr(getattr(each, what), name) == value]
    return [f"as {', '.join(of)}"] if of else []


def profile_row(profile: Profile, origin: Origin) -> dict[str, object]:
    """A profile as the list has it, JSON-ready."""
    return {
        "name": profile.name,
        "title": profile.title,
        "description": profile.description,
        "techniques": _techniques(profile),
        "harps": list(profile.harps),
        "shipped": origin.shipped,
        "file": str(origin.path),
        "base": origin.base,
        "class_of": list(origin.class_of),
    }


def profile_report(profile: Profile, origin: Origin) -> dict[str, object]:
    """The same with every weight and every figure of the lungs, and what each starts from."""
    tables = {
        what: [
            {"name": name, "value": value, "start": theirs[name], "meaning": meanings[name]}
            for name, value in mine.items()
        ]
        for what, mine, theirs, meanings in _tables(profile, origin)
    }
    return {**profile_row(profile, origin), **tables}


Values = Mapping[str, "float | tuple[float, ...]"]


def _tables(
    profile: Profile, origin: Origin
) -> Iterable[tuple[str, Values, Values, Mapping[str, str]]]:
    """Weights and lungs: their name, the profile's values, those it starts from, the meanings.

    A class starts from nobody; what its members make of it is held against the defaults.
    """
    start = origin.start if not origin.class_of else Profile("", "")
    weights, lungs = weight_meanings(), lungs_meanings()
    yield (
        "weights",
        _values(profile.weights, weights),
        _values(start.weights, weights),
        weights,
    )
    yield "lungs", _values(profile.lungs, lungs), _values(start.lungs, lungs), lungs


def _values(holder: Weights | Lungs, names: Iterable[str]) -> Values:
    return {name: getattr(holder, name) for name in names}


def _techniques(profile: Profile) -> list[str]:
    return [each for each in TECHNIQUES if profile.has(each)]


def _number(value: float | tuple[float, ...]) -> str:
    return " ".join(f"{each:g}" for each in (value if isinstance(value, tuple) else (value,)))
