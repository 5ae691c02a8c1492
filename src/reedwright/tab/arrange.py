"""The tab of least effort for a tune, a harp and a player: exact, repeats as played.

What is summed: docs/effort.md and `effort.py`; which notes meet: `chain.py`; how the
least sum is found: `solver.py`. On the fingering so found the ornaments are planned and the
breaths placed.

Public: `arrange`, `posed`, `posed_again`, `Posed`, `NotOnHarp`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Harp, Sounding
from reedwright.player.profile import Profile
from reedwright.tab.advice import missing_notes
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath.balance import air_of, balanced
from reedwright.tab.breath.marking import with_breaths
from reedwright.tab.chain import Chain, make_chain, with_ornaments, written_chain
from reedwright.tab.costs import Item, effort_items, problems_of
from reedwright.tab.effort import SCALE
from reedwright.tab.ornaments.asked import asked_demands, without_unwanted
from reedwright.tab.ornaments.dress import dress
from reedwright.tab.ornaments.model import Ornament, OrnamentKind
from reedwright.tab.ornaments.plan import planned
from reedwright.tab.ornaments.playable import demands_of, ornamenting
from reedwright.tab.ornaments.suggest import suggested
from reedwright.tab.solver import Problems, solve
from reedwright.tab.ways import MIDI_NOTES, WaySet, make_table, usable_ways
from reedwright.tab.wishes import NO_WISHES, Wishes
from reedwright.tune.model import Note, Tune
from reedwright.tune.tempo import quarters_per_minute as usual_tempo
from reedwright.tune.transpose import transposed
from reedwright.tune.writtenout import written_out


class NotOnHarp(ReedwrightError):
    """A wish names a note that the tune has not, or a way that the harp has not."""


@dataclass(frozen=True, slots=True)
class Posed:
    """A tune on a harp for a player as a problem for the solver.

    `ways[i][state]` is how unknown i of the chain is sounded in that state; a note without
    a way has the one state None. `wishes` are met by leaving out what they exclude.
    """

    chain: Chain
    problems: Problems
    ways: tuple[tuple[Sounding | None, ...], ...]
    harp: Harp
    profile: Profile
    quarters_per_minute: float

    def chosen(self, states: Sequence[int]) -> list[Sounding | None]:
        """The way of each unknown in these states."""
        return [ways[state] for ways, state in zip(self.ways, states, strict=True)]

    def effort_items(self, chosen: Sequence[Sounding | None]) -> dict[str, Item]:
        """What a choice costs, part by part (see `costs.effort_items`)."""
        return effort_items(
            self.chain,
            chosen,
            ornamenting(self.harp, self.profile),
            self.profile.weights,
            self.quarters_per_minute,
        )


def posed(
    tune: Tune,
    harp: Harp,
    profile: Profile,
    voice: int = 0,
    quarters_per_minute: float | None = None,
    wishes: Wishes = NO_WISHES,
) -> Posed:
    """The problem that `arrange` solves, for a tune that already stands as it is to be played.

    Raises `NotOnHarp` for a wish that cannot be, `EndlessTune` (see `unfold`).
    """
    tune = without_unwanted(tune, voice, wishes)
    _check(wishes, tune, voice, harp)
    chain = make_chain(tune, voice, asked_demands(wishes))
    tempo = quarters_per_minute or usual_tempo(tune)
    return _posed(chain, harp, profile, tempo, wishes)


def posed_again(arrangement: Arrangement, wishes: Wishes | None = None) -> Posed:
    """The problem that an arrangement solved, or with other wishes. Raises as `posed`."""
    return posed(
        arrangement.plain,
        arrangement.harp,
        arrangement.player,
        arrangement.voice,
        arrangement.quarters_per_minute,
        arrangement.wishes if wishes is None else wishes,
    )


def arrange(
    tune: Tune,
    harp: Harp,
    profile: Profile,
    voice: int = 0,
    octaves: int = 0,
    semitones: int = 0,
    quarters_per_minute: float | None = None,
    wishes: Wishes = NO_WISHES,
) -> Arrangement:
    """Find the tab of least effort, the tune first moved by octaves and semitones.

    `quarters_per_minute`: crotchets a minute; without it the tune's own tempo or what is
    usual for its type. `wishes`: what is asked note by note; the fingering is the least that
    these allow.

    Equal answers: the one is taken whose notes, compared in written order, come first in
    the order of preference that `ways.py` states.

    Raises `NotOnHarp` for a wish that cannot be, `EndlessTune` (see `unfold`) and
    `OutOfRange` (see `transposed`).
    """
    moved = transposed(tune, semitones=semitones, octaves=octaves)
    if wishes.second_time and voice < len(moved.voices):
        moved = written_out(moved, voice)
        voice = 0
    tempo = quarters_per_minute or usual_tempo(tune)
    asked = without_unwanted(moved, voice, wishes)
    problem = posed(moved, harp, profile, voice, tempo, wishes)
    chain = problem.chain
    chosen = _least(problem, asked, voice)
    soundings = _by_id(chain, chosen)
    if chain.unplayed:
        soundings |= _unplayed(asked, voice, problem, wishes, soundings)
    ornaments, more = _ornaments(asked, voice, soundings, problem, wishes)
    if more:
        known = with_ornaments(chain, {id_: demands_of(kind) for id_, kind in more.items()})
        chain_with = known or make_chain(asked, voice, asked_demands(wishes, more))
        problem = replace(problem, chain=chain_with)
    dressed, added = dress(asked, voice, ornaments, soundings, ornamenting(harp, profile))
    parts = {name: item.units for name, item in problem.effort_items(chosen).items()}
    found = Arrangement(
        tune=dressed,
        harp=harp,
        player=profile,
        soundings={**soundings, **added},
        missing=missing_notes(moved, voice, harp, profile, soundings),
        effort=sum(parts.values()) / SCALE,
        parts_of_effort={name: units / SCALE for name, units in parts.items()},
        voice=voice,
        octaves=octaves,
        semitones=semitones,
        warnings=(*_warnings(moved, voice, chain), *_conflicts(moved, voice, chain, wishes)),
        quarters_per_minute=tempo,
        notes_played=chain.played,
        undressed=moved,
        ornaments=ornaments,
        wishes=wishes,
    )
    return with_breaths(found, wishes)


def _ornaments(
    tune: Tune, voice: int, soundings: Mapping[str, Sounding], problem: Posed, wishes: Wishes
) -> tuple[tuple[Ornament, ...], dict[str, OrnamentKind]]:
    """All ornaments in the order of their notes, and the kinds of those that were suggested."""
    has = ornamenting(problem.harp, problem.profile)
    tempo = problem.quarters_per_minute
    held = {id_ for unknown in problem.chain.unknowns for id_ in unknown.ids[1:]}
    found = list(planned(tune, voice, soundings, has, tempo, wishes, held))
    more = list(
        suggested(
            tune,
            voice,
            soundings,
            has,
            tempo,
            wishes.amount,
            frozenset(wishes.ornaments) | held,
            wishes.second_time,
        )
    )
    if more:
        order = {note.id: place for place, note in enumerate(tune.voices[voice].notes)}
        found = sorted((*found, *more), key=lambda each: order[each.note_id])
    return tuple(found), {each.note_id: each.kind for each in more}


def _posed(chain: Chain, harp: Harp, profile: Profile, tempo: float, wishes: Wishes) -> Posed:
    ways: dict[int, tuple[Sounding, ...]] = dict(usable_ways(harp, profile))
    # A note that wishes bear on counts as a pitch of its own that has the ways left to it.
    rows: dict[tuple[Sounding, ...], int] = {}
    unknowns = []
    for unknown in chain.unknowns:
        left = _left(unknown.ids, ways.get(unknown.midi, ()), wishes)
        if left is not None:
            row = rows.setdefault(left, MIDI_NOTES + len(rows))
            unknown = unknown._replace(midi=row)
        unknowns.append(unknown)
    ways |= {row: left for left, row in rows.items()}
    chain = replace(chain, unknowns=tuple(unknowns))
    table = make_table((WaySet(ways, 0, ornamenting(harp, profile)),))
    return Posed(
        chain,
        problems_of(chain, table, profile.weights, tempo),
        tuple(ways.get(unknown.midi) or (None,) for unknown in unknowns),
        harp,
        profile,
        tempo,
    )


def _left(
    ids: Sequence[str], ways: tuple[Sounding, ...], wishes: Wishes
) -> tuple[Sounding, ...] | None:
    """The ways that wishes leave to tied notes; None where there is no wish."""
    for id_ in ids:
        if id_ in wishes.fixed:
            return (wishes.fixed[id_],)
    forbidden = {way for id_ in ids for way in wishes.forbidden.get(id_, ())}
    if not forbidden:
        return None
    return tuple(way for way in ways if way not in forbidden)


def _least(problem: Posed, tune: Tune, voice: int) -> list[Sounding | None]:
    """The ways of least effort; where the profile weighs balance, effort traded for it."""
    weight = problem.profile.weights.breath_balance
    if weight:
        unknowns = [unknown.ids for unknown in problem.chain.unknowns]
        lungs, tempo = problem.profile.lungs, problem.quarters_per_minute
        air = air_of(tune, voice, unknowns, problem.ways, problem.harp, lungs, tempo)
        return problem.chosen(balanced(problem.problems, air, weight))
    _, states = solve(problem.problems)
    return problem.chosen(states[:, 0].tolist())


def _by_id(chain: Chain, chosen: Sequence[Sounding | None]) -> dict[str, Sounding]:
    return {
        id_: way
        for unknown, way in zip(chain.unknowns, chosen, strict=True)
        if way is not None
        for id_ in unknown.ids
    }


def _unplayed(
    tune: Tune, voice: int, problem: Posed, wishes: Wishes, soundings: Mapping[str, Sounding]
) -> dict[str, Sounding]:
    """Ways for notes that stand on the page but are never played: the easiest as they stand."""
    unplayed = set(problem.chain.unplayed)
    known = {id_: way for id_, way in soundings.items() if id_ not in unplayed}
    page = _posed(
        written_chain(tune, voice, asked_demands(wishes)),
        problem.harp,
        problem.profile,
        problem.quarters_per_minute,
        replace(wishes, fixed={**known, **wishes.fixed}),
    )
    _, states = solve(page.problems)
    chosen = page.chosen(states[:, 0].tolist())
    return {id_: way for id_, way in _by_id(page.chain, chosen).items() if id_ in unplayed}


def _check(wishes: Wishes, tune: Tune, voice: int, harp: Harp) -> None:
    notes = {n.id: n for n in (tune.voices[voice].notes if voice < len(tune.voices) else ())}
    for id_ in (*wishes.fixed, *wishes.forbidden, *wishes.ornaments, *wishes.breaths):
        if id_ not in notes:
            raise NotOnHarp(f"{tune.title}: a choice names the note {id_}, which is not there")
    for id_, way in wishes.fixed.items():
        if way not in harp.ways.get(notes[id_].pitch.midi, ()):
            raise NotOnHarp(
                f"{tune.title}, note {id_}: hole {way.hole} {way.breath.value} "
                f"({way.technique.value}) of the {harp.name} does not sound "
                f"{notes[id_].pitch.name}; choose another way"
            )


def _conflicts(tune: Tune, voice: int, chain: Chain, wishes: Wishes) -> list[str]:
    """Choices of which only the first can hold: for notes that a tie makes one."""
    if not wishes.fixed:
        return []
    bars = {note.id: bar.number for bar in tune.voices[voice].bars for note in bar.notes}
    found = []
    for unknown in chain.unknowns:
        fixed = [id_ for id_ in unknown.ids if id_ in wishes.fixed]
        if len({wishes.fixed[id_] for id_ in fixed}) > 1:
            found.append(
                f"A tie joins notes in bars {bars[fixed[0]]} and {bars[fixed[1]]} for which "
                "different ways are chosen; the first is taken."
            )
        elif fixed and any(
            wishes.fixed[fixed[0]] in wishes.forbidden.get(id_, ()) for id_ in unknown.ids
        ):
            found.append(
                f"A note in bar {bars[fixed[0]]} is to be played in a way that is also ruled out "
                "for it; it is played so."
            )
    return found


def _warnings(tune: Tune, voice: int, chain: Chain) -> tuple[str, ...]:
    found = []
    bars = tune.voices[voice].bars if voice < len(tune.voices) else ()
    chords = [bar.number for bar in bars for note in bar.notes if len(note.pitches) > 1]
    if len(chords) == 1:
        found.append(f"There is a chord in bar {chords[0]}; the tab follows its top note.")
    elif chords:
        found.append(
            f"There are {len(chords)} chords, the first in bar {chords[0]}; "
            "the tab follows the top note."
        )
    if any(isinstance(event, Note) for bar in bars for layer in bar.overlays for event in layer):
        found.append("Some bars hold a second layer of notes; the tab follows the first.")
    if chain.unplayed:
        count = sum(1 for bar in bars for note in bar.notes if note.id in set(chain.unplayed))
        which, them = ("1 note stands", "it") if count == 1 else (f"{count} notes stand", "them")
        found.append(f"{which} in the music but its repeats never reach {them}.")
    return tuple(found)
