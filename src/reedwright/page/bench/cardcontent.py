"""What a card tells the one who plays the harp: how it is tuned, what lies on it, how to keep it.

What can be played is worked out from the reeds: a mode lies in a position where a whole octave of
its scale is there. Names of positions and modes are those of `harp.position` and `fifths`.

Public: `CARE`, `VALVE_CARE`, `Difference`, `PositionLine`, `TunesOn`, `differences`, `positions`,
`position_words`, `standard_harp`, `tunes_on`, `tuning_words`, `valve_words`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from reedwright.harp.layout import home_key
from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Harp, Sounding, Technique
from reedwright.harp.naming import key_pitch_class
from reedwright.harp.position import position, position_name
from reedwright.page.bench.words import note_words, ranges
from reedwright.page.content import signs_in_print
from reedwright.tab.words import bend_words, listed
from reedwright.tune.model import Tune

OCTAVE = 12  # semitones
# Semitones of the scale above its tonic (any theory primer), with what sets it apart from major
# or minor. The more usual modes come first: they are taken where several lie as well.
MODES: dict[str, tuple[tuple[int, ...], str]] = {
    "major": ((0, 2, 4, 5, 7, 9, 11), ""),
    "mixolydian": ((0, 2, 4, 5, 7, 9, 10), "major with a flat seventh"),
    "dorian": ((0, 2, 3, 5, 7, 9, 10), "minor with a raised sixth"),
    "minor": ((0, 2, 3, 5, 7, 8, 10), ""),
    "harmonic minor": ((0, 2, 3, 5, 7, 8, 11), "minor with a raised seventh"),
    "lydian": ((0, 2, 4, 6, 7, 9, 11), "major with a raised fourth"),
    "phrygian": ((0, 1, 3, 5, 7, 8, 10), "minor with a flat second"),
}
ALWAYS_TOLD = (1, 2, 3)  # positions, whatever they give
TOLD_IF_PLAIN = (12, 4, 5, 11)  # where a whole octave needs no bend
MOST_POSITIONS = 6
MOST_LISTED = 8  # reeds that differ; more are seen better on the chart

# Common practice of players and makers, no source; the maker's word comes first.
CARE = (
    "Rinse your mouth before you play; do not eat or drink while playing.",
    "Tap the moisture out afterwards, holes down, and let the harp dry before you shut the case.",
    "Keep it from heat, sun and frost. Do not soak it.",
    "Warm a cold harp in your hands before you play.",
    "A reed that suddenly sounds flat is about to break: stop, and have it seen to.",
    "Where the maker's own guidance differs, it goes before this card.",
)
VALVE_CARE = (
    "A valve that buzzes or sticks is damp: warm the harp and let it dry. Do not poke at it."
)


class Difference(NamedTuple):
    """Reeds of one breath that differ alike from a standard harp's: notes, and semitones up."""

    breath: Breath
    holes: tuple[int, ...]
    note: str
    instead: str
    semitones: int


class PositionLine(NamedTuple):
    """A position and the mode that lies best in it.

    `plain` and `bent` are octaves as the pair of their end notes: those that need no bend, and
    those that need some and are not among the plain ones.
    """

    number: int
    tonic: str
    mode: str
    plain: tuple[tuple[Sounding, Sounding], ...]
    bent: tuple[tuple[Sounding, Sounding], ...]


class TunesOn(NamedTuple):
    """Titles of tunes by what the harp gives: without bends, with them, not all notes."""

    plain: tuple[str, ...]
    bent: tuple[str, ...]
    incomplete: tuple[str, ...]


def standard_harp(harp: Harp) -> Harp | None:
    """The standard harp with the same home note; None where holes differ or there is a slide."""
    if harp.tuning.slide:
        return None
    standard = make_harp(home_key(harp), "richter", harp.register, valves="none")
    return standard if standard.tuning.holes == harp.tuning.holes else None


def differences(harp: Harp, base: Harp) -> tuple[Difference, ...]:
    """Reeds that sound another note than on `base`; octaves of one change are one entry."""
    found: dict[tuple[Breath, int, int], list[int]] = {}
    for breath in Breath:
        for hole in range(1, min(harp.tuning.holes, base.tuning.holes) + 1):
            midi, was = harp.reed_midi(hole, breath), base.reed_midi(hole, breath)
            if midi != was:
                found.setdefault((breath, midi % OCTAVE, midi - was), []).append(hole)
    return tuple(
        Difference(
            breath,
            tuple(holes),
            note_words(harp.reed_midi(holes[0], breath), harp, octave=False),
            note_words(base.reed_midi(holes[0], breath), base, octave=False),
            semitones,
        )
        for (breath, _, semitones), holes in found.items()
    )


def difference_words(each: Difference) -> str:
    """`3 blow is A instead of G, a whole tone higher`."""
    holes = listed([str(hole) for hole in each.holes])
    are = "is" if len(each.holes) == 1 else "are"
    way = "higher" if each.semitones > 0 else "lower"
    return (
        f"{holes} {each.breath.value} {are} {each.note} instead of {each.instead}, "
        f"{bend_words(abs(each.semitones))} {way}"
    )


def positions(harp: Harp) -> tuple[PositionLine, ...]:
    """First to third position, then others where a mode lies whole without a bend."""
    plain = _lowest_ways(s for s in harp.soundings if _is_plain(s))
    bent = _lowest_ways(s for s in harp.soundings if not s.technique.overbend and not s.slide)
    lines = [_position_line(number, harp, plain, bent) for number in ALWAYS_TOLD]
    others = [_position_line(number, harp, plain, bent) for number in TOLD_IF_PLAIN]
    lines += [line for line in others if line.plain]
    return tuple(line for line in lines if line.plain or line.bent)[:MOST_POSITIONS]


def position_words(line: PositionLine) -> dict[str, str]:
    """The name of the position, the key, and where it lies."""
    gloss = MODES[line.mode][1]
    where = []
    if line.plain:
        where.append(f"no bends from {_spans(line.plain)}")
    if line.bent:
        where.append(f"with bends from {_spans(line.bent)}")
    return {
        "position": position_name(line.number),
        "key": f"{line.tonic} {line.mode}",
        "gloss": gloss,
        "where": "; ".join(where),
    }


def tunes_on(harp: Harp, tunes: Iterable[Tune], octaves: Sequence[int] = (0, -1, 1)) -> TunesOn:
    """The tunes (first voices) in their own keys, in the octave that suits best.

    Grace notes do not count, and tunes without notes are left out.
    """
    plain = {s.midi for s in harp.soundings if s.technique is Technique.NATURAL}
    bent = {s.midi for s in harp.soundings if not s.technique.overbend}
    found: tuple[list[str], list[str], list[str]] = ([], [], [])
    for tune in tunes:
        voice = tune.voices[:1]
        notes = {pitch.midi for each in voice for note in each.notes for pitch in note.pitches}
        if not notes:
            continue
        moved = [{midi + OCTAVE * octave for midi in notes} for octave in octaves]
        if any(each <= plain for each in moved):
            found[0].append(tune.title)
        elif any(each <= bent for each in moved):
            found[1].append(tune.title)
        else:
            found[2].append(tune.title)
    return TunesOn(*map(tuple, found))


def tuning_words(harp: Harp, base: Harp | None) -> list[str]:
    """How the reeds are laid out against `base`, in sentences."""
    said = []
    if base is None:
        said.append(harp.tuning.description)
    else:
        found = differences(harp, base)
        reeds = sum(len(each.holes) for each in found)
        name = f"standard {signs_in_print(base.name)}"
        if not found:
            said.append(f"Its notes are those of a {name}.")
        elif reeds > MOST_LISTED:
            said.append(f"{reeds} reeds differ from a {name}: go by the chart.")
            said.append(harp.tuning.description)
        else:
            listed_ones = "; ".join(difference_words(each) for each in found)
            said.append(f"All notes are those of a {name}, but: {listed_ones}.")
    if harp.tuning.first_position:
        number = position(key_pitch_class(harp.key), harp)
        key = signs_in_print(harp.key)
        said.append(f"It is named {key} after its {position_name(number)} position.")
    return [each for each in said if each]


def valve_words(harp: Harp) -> str:
    """Which reeds are valved and what that gives, or nothing."""
    if not harp.isolated:
        return ""
    if len(harp.isolated) == 2 * harp.tuning.holes:
        which = "Every reed is valved"
    else:
        sides = []
        for breath in Breath:
            holes = sorted(reed.hole for reed in harp.isolated if reed.breath is breath)
            if holes:
                sides.append(f"{breath.value} {ranges(holes)}")
        which = f"Valved reeds: {' and '.join(sides)}"
    return f"{which}. They sound with less breath and bend alone, down by about a semitone."


def _is_plain(sounding: Sounding) -> bool:
    return sounding.technique is Technique.NATURAL and not sounding.slide


def _lowest_ways(soundings: Iterable[Sounding]) -> dict[int, Sounding]:
    """For each note the plainest way, of equals in the lowest hole."""
    found: dict[int, Sounding] = {}
    for each in soundings:
        known = found.get(each.midi)
        if known is None or (each.bend, each.hole) < (known.bend, known.hole):
            found[each.midi] = each
    return found


def _position_line(
    number: int, harp: Harp, plain: dict[int, Sounding], bent: dict[int, Sounding]
) -> PositionLine:
    """The mode with most octaves free of bends, then with most octaves at all."""
    tonic = (harp.home_pitch_class + 7 * (number - 1)) % OCTAVE
    name = note_words(tonic, harp, octave=False)
    best: PositionLine | None = None
    for mode, (scale, _) in MODES.items():
        free = _octaves(tonic, scale, plain)
        starts = {low.midi for low, _ in free}
        others = tuple(pair for pair in _octaves(tonic, scale, bent) if pair[0].midi not in starts)
        if best is None or (len(free), len(others)) > (len(best.plain), len(best.bent)):
            best = PositionLine(number, name, mode, free, others)
    assert best is not None  # there are modes
    return best


def _octaves(
    tonic: int, scale: Sequence[int], ways: dict[int, Sounding]
) -> tuple[tuple[Sounding, Sounding], ...]:
    """Where a whole octave of the scale is there, tonic to tonic, from low to high."""
    return tuple(
        (ways[low], ways[low + OCTAVE])
        for low in sorted(ways)
        if low % OCTAVE == tonic and all(low + step in ways for step in (*scale, OCTAVE))
    )


def _spans(octaves: Sequence[tuple[Sounding, Sounding]]) -> str:
    """`4 blow to 7 blow`; octaves that meet are one span."""
    spans: list[tuple[Sounding, Sounding]] = []
    for low, high in octaves:
        if spans and spans[-1][1].midi == low.midi:
            spans[-1] = (spans[-1][0], high)
        else:
            spans.append((low, high))
    return " and ".join(f"{_place(low)} to {_place(high)}" for low, high in spans)


def _place(way: Sounding) -> str:
    """`2 draw`, `2 draw bent`."""
    return f"{way.hole} {way.breath.value}" + (" bent" if way.bend else "")
