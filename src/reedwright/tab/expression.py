"""What a tune's notes allow in expression, and what half-valving the harp would bring.

Time counts as the tune is played, in seconds of sounding notes. What a note allows:
`harp.expression`.

Public: `Shares`, `NoteRow`, `ValveComparison`, `compare_valves`, `expression_shares`,
`expression_remarks`, `valves_report`, `valves_text`.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from reedwright.harp.expression import BendKind, Expression, expression_of
from reedwright.harp.layout import note_name
from reedwright.harp.making import parse_valves
from reedwright.harp.model import Harp, Sounding
from reedwright.player.profile import Profile
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.playing import Played, played_notes
from reedwright.tab.remark import Remark
from reedwright.tab.words import bars_text, counted, listed, short_words
from reedwright.tune.model import Tune
from reedwright.tune.unfold import unfold

HELD = 0.5
"""Seconds from which on a note is held: long enough to be given vibrato (our judgement)."""
SLOW = 0.5
"""A tune is slow where held notes are this share of its playing time (our judgement)."""
WORTH_TELLING = 0.15
"""With a smaller share of held notes nothing is said of vibrato (our judgement)."""
_MOST_NAMED = 4
_HALF = "half"


class Shares(NamedTuple):
    """Shares of the playing time (0 to 1) in which the note can bend, take vibrato, is breathy."""

    bends: float
    vibrato: float
    breathy: float


class NoteRow(NamedTuple):
    """One note of the tune: how it is sounded without and with the valves, and what that allows.

    `None` where it is missing there. `seconds` is how long it sounds in all.
    """

    pitch: str
    seconds: float
    bare: Sounding | None
    bare_allows: Expression | None
    valved: Sounding | None
    valved_allows: Expression | None

    @property
    def gains(self) -> tuple[str, ...]:
        """Of `the note`, `bends`, `vibrato`, `purer tone`: what the valves bring here."""
        one, two = self.bare_allows, self.valved_allows
        if one is None or two is None:
            return ("the note",) if two is not None else ()
        return tuple(
            name
            for name, gained in (
                ("bends", two.depth > 0 and one.depth == 0),
                ("vibrato", two.vibrato and not one.vibrato),
                ("purer tone", one.breathy and not two.breathy),
            )
            if gained
        )


@dataclass(frozen=True, slots=True)
class ValveComparison:
    """One tune on one harp, without valves and with them. `held` is the share of held notes."""

    bare: Arrangement
    valved: Arrangement
    rows: tuple[NoteRow, ...]
    bare_shares: Shares
    valved_shares: Shares
    seconds: float
    held: float

    @property
    def slow(self) -> bool:
        """Whether it is a tune for which expression matters most."""
        return self.held >= SLOW


def compare_valves(
    tune: Tune,
    harp: Harp,
    player: Profile,
    voice: int = 0,
    octaves: int = 0,
    semitones: int = 0,
    quarters_per_minute: float | None = None,
) -> ValveComparison:
    """Arrange the tune on the harp without valves and with them, and set the two side by side.

    The valves are the harp's own where it has some, else half-valving. Raises as `arrange`.
    """
    bare_harp = replace(harp, isolated=frozenset())
    valves = harp.isolated or parse_valves(_HALF, harp.tuning)
    bare, valved = (
        arrange(tune, each, player, voice, octaves, semitones, quarters_per_minute)
        for each in (bare_harp, replace(harp, isolated=valves))
    )
    return ValveComparison(
        bare=bare,
        valved=valved,
        rows=_rows(bare, valved),
        bare_shares=expression_shares(bare),
        valved_shares=expression_shares(valved),
        seconds=_seconds(bare, played_notes(bare)),
        held=_held(bare),
    )


def expression_shares(arrangement: Arrangement) -> Shares:
    """What share of the playing time the notes of this arrangement allow what."""
    return _shares(arrangement, lambda each: expression_of(arrangement.harp, each.sounding))


def _shares(arrangement: Arrangement, allows: Callable[[Played], Expression]) -> Shares:
    played = played_notes(arrangement)
    whole = _seconds(arrangement, played)
    if not whole:
        return Shares(0.0, 0.0, 0.0)
    totals = [0.0, 0.0, 0.0]
    for each in played:
        allowed = allows(each)
        lasting = _seconds(arrangement, [each])
        for at, so in enumerate((allowed.depth > 0, allowed.vibrato, allowed.breathy)):
            totals[at] += lasting * so
    return Shares(*(total / whole for total in totals))


def _seconds(arrangement: Arrangement, played: Iterable[Played]) -> float:
    return sum(float(each.length) for each in played) * _quarter(arrangement)


def _quarter(arrangement: Arrangement) -> float:
    return 60.0 / (arrangement.quarters_per_minute or 100.0)


def _held_notes(arrangement: Arrangement) -> list[Played]:
    quarter = _quarter(arrangement)
    return [n for n in played_notes(arrangement) if float(n.length) * quarter >= HELD]


def _held(arrangement: Arrangement) -> float:
    whole = _seconds(arrangement, played_notes(arrangement))
    return _seconds(arrangement, _held_notes(arrangement)) / whole if whole else 0.0


def _rows(bare: Arrangement, valved: Arrangement) -> tuple[NoteRow, ...]:
    """Each pitch with its two ways, by pitch; the time is that of the written notes as played."""
    quarter = _quarter(bare)
    times: dict[tuple[int, Sounding | None, Sounding | None], float] = {}
    for play in unfold(bare.plain, bare.voice).notes:
        id_ = play.note.id
        key = (play.note.pitch.midi, bare.soundings.get(id_), valved.soundings.get(id_))
        times[key] = times.get(key, 0.0) + float(play.note.length) * quarter
    found = [
        NoteRow(
            pitch=note_name(midi, bare.harp),
            seconds=seconds,
            bare=one,
            bare_allows=expression_of(bare.harp, one) if one else None,
            valved=two,
            valved_allows=expression_of(valved.harp, two) if two else None,
        )
        for (midi, one, two), seconds in sorted(times.items(), key=lambda item: item[0][0])
    ]
    return tuple(found)


def expression_remarks(arrangement: Arrangement) -> list[Remark]:
    """At most two sentences on the held notes: which take vibrato, and what valves would bring.

    Nothing for a tune with hardly any held notes: there is no time for vibrato in it.
    """
    held = _held_notes(arrangement)
    if not held or _held(arrangement) < WORTH_TELLING:
        return []
    harp = arrangement.harp
    singing = [n for n in held if expression_of(harp, n.sounding).vibrato]
    straight = [n for n in held if not expression_of(harp, n.sounding).vibrato]
    breathy = all(expression_of(harp, n.sounding).breathy for n in straight)
    if not straight:
        text = "Every held note takes vibrato: let it come from the throat."
    elif not singing:
        text = f"No held note takes vibrato of pitch ({_named(straight)}): shape it with loudness."
    else:
        take = "takes" if _one(singing) else "take"
        stay = "stays" if _one(straight) else "stay"
        text = (
            f"Of the held notes {_named(singing)} {take} vibrato; {_named(straight)} {stay} "
            f"straight{' and breathy' if breathy else ''}, to be shaped with loudness."
        )
    text += _valve_sentence(arrangement, straight)
    return [Remark("expression", text, tuple(sorted({n.bar for n in held})))]


def _valve_sentence(arrangement: Arrangement, straight: Sequence[Played]) -> str:
    """What half-valving would bring to the same tab, for a tune slow enough to hear it."""
    harp = arrangement.harp
    if not straight or harp.isolated or _held(arrangement) < SLOW:
        return ""
    half = replace(harp, isolated=parse_valves(_HALF, harp.tuning))
    now = expression_shares(arrangement).vibrato
    then = _shares(
        arrangement,
        lambda each: expression_of(
            harp if each.sounding.technique.overbend else half, each.sounding
        ),
    ).vibrato
    if then <= now:
        return ""
    return (
        f" In a slow tune that matters: half-valved, this harp would take it for "
        f"{round(100 * then)} per cent of the playing time instead of {round(100 * now)}."
    )


def _one(notes: Sequence[Played]) -> bool:
    return len({note.sounding for note in notes}) == 1


def _named(notes: Sequence[Played]) -> str:
    """The soundings by how long they are held, the first few."""
    times: dict[Sounding, float] = {}
    for note in notes:
        times[note.sounding] = times.get(note.sounding, 0.0) + float(note.length)
    names = [short_words(each) for each, _ in sorted(times.items(), key=lambda item: -item[1])]
    if len(names) > _MOST_NAMED:
        names = [*names[: _MOST_NAMED - 1], f"{len(names) - _MOST_NAMED + 1} more"]
    return listed(names)


def valves_report(found: ValveComparison) -> dict[str, object]:
    """JSON-ready; the shape is in docs/formats.md. Shares are of 1."""
    return {
        "title": found.bare.tune.title,
        "number": found.bare.tune.number,
        "player": found.bare.player.name,
        "quarters_per_minute": found.bare.quarters_per_minute,
        "seconds": round(found.seconds, 3),
        "held_share": round(found.held, 4),
        "slow": found.slow,
        "harps": {
            which: {
                "name": arrangement.harp.name,
                "effort": arrangement.effort,
                "missing": len(arrangement.missing),
                **{name: round(share, 4) for name, share in shares._asdict().items()},
            }
            for which, arrangement, shares in (
                ("without_valves", found.bare, found.bare_shares),
                ("with_valves", found.valved, found.valved_shares),
            )
        },
        "notes": [
            {
                "pitch": row.pitch,
                "seconds": round(row.seconds, 3),
                "without_valves": _way_report(row.bare, row.bare_allows),
                "with_valves": _way_report(row.valved, row.valved_allows),
                "gains": list(row.gains),
            }
            for row in found.rows
        ],
    }


def _way_report(sounding: Sounding | None, allows: Expression | None) -> dict[str, object] | None:
    if sounding is None or allows is None:
        return None
    return {
        "hole": sounding.hole,
        "breath": sounding.breath.value,
        "technique": sounding.technique.value,
        "bend": sounding.bend,
        "bends_by": allows.bend.value,
        "bends_further": allows.depth,
        "vibrato": allows.vibrato,
        "breathy": allows.breathy,
    }


def valves_text(found: ValveComparison, width: int = 80) -> str:
    """The two harps side by side for a terminal, and in a sentence or two what valves bring."""
    bare, valved = found.bare, found.valved
    heads = ("note", "seconds", "without valves", "with valves", "gains")
    table = [heads]
    for row in found.rows:
        table.append(
            (
                row.pitch,
                f"{row.seconds:.1f}",
                _way_text(row.bare, row.bare_allows),
                _way_text(row.valved, row.valved_allows),
                ", ".join(row.gains),
            )
        )
    widths = [max(len(line[column]) for line in table) for column in range(len(heads))]
    lines = [f"{bare.tune.title}, on the {bare.harp.name} and the {valved.harp.name}", ""]
    lines += [
        "  ".join(f"{cell:{size}}" for cell, size in zip(line, widths, strict=True)).rstrip()
        for line in table
    ]
    lines.append("")
    shares = zip(Shares._fields, found.bare_shares, found.valved_shares, strict=True)
    names = {"bends": "can bend", "vibrato": "takes vibrato", "breathy": "is breathy"}
    lines += [
        f"{names[name]:14} {one:5.0%} of the playing time, {two:.0%} with the valves"
        for name, one, two in shares
    ]
    lines.append(f"{'effort':14} {bare.effort:.1f}, {valved.effort:.1f} with the valves")
    lines += ["", *textwrap.wrap(" ".join(_conclusions(found)), max(width, 40))]
    return "\n".join(lines)


def _way_text(sounding: Sounding | None, allows: Expression | None) -> str:
    if sounding is None or allows is None:
        return "missing"
    told = [
        name
        for name, so in (
            ("bends", allows.bend is not BendKind.NONE and allows.depth > 0),
            ("vibrato", allows.vibrato),
            ("breathy", allows.breathy),
        )
        if so
    ]
    return f"{short_words(sounding)} ({', '.join(told) or 'straight'})"


def _conclusions(found: ValveComparison) -> list[str]:
    """What the teacher is to take from it."""
    said = []
    gain = found.valved_shares.vibrato - found.bare_shares.vibrato
    if gain > 0:
        said.append(
            f"The valves bring vibrato to {gain:.0%} more of the playing time, and take the "
            f"breath out of {found.bare_shares.breathy - found.valved_shares.breathy:.0%}."
        )
    else:
        said.append("The valves bring no more vibrato to this tune.")
    lost = len(found.valved.missing) - len(found.bare.missing)
    if lost < 0:
        said.append(f"They give {counted(-lost, 'note')} that the harp lacks without them.")
    over = {
        id_
        for id_, sounding in found.bare.soundings.items()
        if sounding.technique.overbend and found.valved.soundings.get(id_) != sounding
    }
    if lost > 0:
        said.append(f"They cost {counted(lost, 'note')} that only an overblow or overdraw gives.")
    elif over:
        said.append(
            f"{counted(len(over), 'overblow or overdraw', 'overblows or overdraws')} must be "
            "taken another way."
        )
    held = sorted({n.bar for n in _held_notes(found.bare)})
    if found.slow:
        said.append(
            f"It is a slow tune ({found.held:.0%} of it held notes), where this is heard most."
        )
    elif held:
        said.append(f"Held notes, where it is heard, are in {bars_text(held)}.")
    else:
        said.append("There are no held notes in it, so little of this will be heard.")
    return said
