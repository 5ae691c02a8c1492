"""Why each note of a bar is played as it is: what every way not taken would cost.

For each way, the least effort of the whole tune if the note were played so (all other notes
then as suits best), less the effort of the tab as it is. Exact: min-marginals by one
more problem for each way, solved together where the ways are open to the player
(`kbest.instead`), and one by one where they are not.

Public: `why_bar`, `why_text`, `why_report`, `Why`, `WhyNote`, `Instead`, `NoSuchBar`.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Sounding
from reedwright.tab.arrange import Posed, posed_again
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.choices.model import beat_text
from reedwright.tab.costs import Item
from reedwright.tab.effort import SCALE
from reedwright.tab.fingerings.effortwords import difference_words
from reedwright.tab.fingerings.kbest import States, instead, k_best
from reedwright.tab.ways import allowed, preference, technique_name
from reedwright.tab.wishes import Wishes
from reedwright.tab.words import counted, short_words, with_article
from reedwright.tune.model import Bar, Note, Tune
from reedwright.tune.unfold import written_beats

WIDTH = 88


class NoSuchBar(ReedwrightError):
    """The tune has no bar with that printed number, or no note in it."""


@dataclass(frozen=True, slots=True)
class Instead:
    """A way not taken. `more` is effort beyond the tab as it is (below 0: a choice costs that).

    `parts`: the same by the name of the weight; `words` tells them. `others` are notes that
    would be played otherwise with it. `lacks`: the technique that the player has not.
    `forbidden`: the teacher's choice rules it out.
    """

    way: Sounding
    more: float
    parts: Mapping[str, float]
    words: tuple[str, ...]
    others: tuple[str, ...]
    lacks: str = ""
    forbidden: bool = False


@dataclass(frozen=True, slots=True)
class WhyNote:
    """A note of the bar, the way taken (None: the harp has none) and the ways not taken.

    `pinned`: the teacher's choice decided it. `tied`: held on from the note before. Where it is
    not `played` (no repeat reaches it) nothing can be said of the ways not taken.
    """

    id: str
    pitch: str
    beat: Fraction
    taken: Sounding | None
    pinned: bool
    tied: bool
    others: tuple[Instead, ...]
    played: bool = True


@dataclass(frozen=True, slots=True)
class Why:
    """A bar explained. `bar` is the printed number.

    `balanced`: the player weighs balance of breath too, which the figures leave out.
    """

    title: str
    harp: str
    player: str
    bar: int
    notes: tuple[WhyNote, ...]
    balanced: bool = False


def why_bar(arrangement: Arrangement, bar: int, wishes: Wishes | None = None) -> Why:
    """Explain one bar, by its printed number, under the wishes of the arrangement or others.

    Raises `NoSuchBar`.
    """
    wishes = arrangement.wishes if wishes is None else wishes
    tune = arrangement.plain
    bars = tune.voices[arrangement.voice].bars if arrangement.voice < len(tune.voices) else ()
    notes = [note for each in bars if each.number == bar for note in each.notes]
    if not notes:
        raise NoSuchBar(_no_such_bar(tune, bars, bar))
    problem = posed_again(arrangement, wishes)
    explainer = _Explainer(arrangement, problem, wishes)
    beats = written_beats(tune, arrangement.voice)
    explainer.solve(notes)
    return Why(
        tune.title,
        arrangement.harp.name,
        arrangement.player.name,
        bar,
        tuple(explainer.note(note, beats[note.id]) for note in notes),
        balanced=arrangement.player.weights.breath_balance > 0,
    )


def _no_such_bar(tune: Tune, bars: Sequence[Bar], bar: int) -> str:
    with_notes = sorted({each.number for each in bars if each.notes})
    if not with_notes:
        return f"{tune.title}: there are no notes in it"
    if bar in {each.number for each in bars}:
        return f"{tune.title}: there is no note in bar {bar}"
    upbeat = "; 0 is the upbeat" if with_notes[0] == 0 else ""
    return f"{tune.title}: there is no bar {bar}; the last is {with_notes[-1]}{upbeat}"


class _Explainer:
    """The tab as it is, and the answers with one note played otherwise."""

    def __init__(self, arrangement: Arrangement, problem: Posed, wishes: Wishes) -> None:
        self.arrangement = arrangement
        self.problem = problem
        self.wishes = wishes
        # Not the least of the problem: the tab may have given up effort for balance of breath.
        self.taken = [arrangement.soundings.get(each.ids[0]) for each in problem.chain.unknowns]
        self.items = problem.effort_items(self.taken)
        self.effort = sum(item.units for item in self.items.values())
        self.place = {
            id_: i for i, unknown in enumerate(problem.chain.unknowns) for id_ in unknown.ids
        }
        self.answers: dict[tuple[int, Sounding], tuple[Posed, int, States]] = {}

    def solve(self, notes: Sequence[Note]) -> None:
        """Work out every way of these notes that is open, together."""
        wanted: list[tuple[int, int]] = []
        for i in dict.fromkeys(self.place[note.id] for note in notes if note.id in self.place):
            wanted += [
                (i, state)
                for state, way in enumerate(self.problem.ways[i])
                if way is not None and way != self.taken[i]
            ]
        for (i, state), answer in zip(wanted, instead(self.problem.problems, wanted), strict=True):
            way = self.problem.ways[i][state]
            if answer is not None and way is not None:
                self.answers[i, way] = (self.problem, *answer)

    def note(self, note: Note, beat: Fraction) -> WhyNote:
        i = self.place.get(note.id)
        taken = self.arrangement.soundings.get(note.id)
        ids = (note.id,) if i is None else self.problem.chain.unknowns[i].ids
        ways = sorted(self.arrangement.harp.ways.get(note.pitch.midi, ()), key=preference)
        others = [] if i is None else [self._instead(i, way) for way in ways if way != taken]
        return WhyNote(
            id=note.id,
            pitch=note.pitch.name,
            beat=beat,
            taken=taken,
            pinned=any(id_ in self.wishes.fixed for id_ in ids),
            tied=note.id != ids[0],
            others=tuple(sorted(others, key=lambda each: each.more)),
            played=i is not None,
        )

    def _instead(self, i: int, way: Sounding) -> Instead:
        if (i, way) not in self.answers:
            self.answers[i, way] = self._overruled(i, way)
        problem, cost, states = self.answers[i, way]
        chosen = problem.chosen(states)
        items = problem.effort_items(chosen)
        ids = self.problem.chain.unknowns[i].ids
        return Instead(
            way=way,
            more=(cost - self.effort) / SCALE,
            parts=_parts(self.items, items),
            words=difference_words(self.items, items),
            others=tuple(
                unknown.ids[0]
                for j, unknown in enumerate(self.problem.chain.unknowns)
                if j != i and chosen[j] != self.taken[j]
            ),
            lacks="" if allowed(way, self.arrangement.player) else technique_name(way),
            forbidden=any(way in self.wishes.forbidden.get(id_, ()) for id_ in ids),
        )

    def _overruled(self, i: int, way: Sounding) -> tuple[Posed, int, States]:
        """The least with a way that the player has not, or that the choices rule out."""
        ids = self.problem.chain.unknowns[i].ids
        fixed = {**self.wishes.fixed, **dict.fromkeys(ids, way)}
        wishes = replace(self.wishes, fixed=fixed)
        arrangement = self.arrangement
        problem = posed_again(arrangement, wishes)
        ((cost, states),) = k_best(problem.problems, 1)
        return problem, cost, states


def _parts(this: Mapping[str, Item], that: Mapping[str, Item]) -> dict[str, float]:
    nothing = Item(0, 0)
    found = {
        name: (that.get(name, nothing).units - this.get(name, nothing).units) / SCALE
        for name in {**this, **that}
    }
    return {name: units for name, units in found.items() if units}


def why_text(why: Why) -> str:
    """For a terminal: every note with the way taken, and what the others would cost."""
    place = "the upbeat" if why.bar == 0 else f"bar {why.bar}"
    lines = [
        f"{why.title}, {place}, on {with_article(why.harp)} for the profile {why.player}",
        "What a way would cost is counted over the tune as played, all other notes then",
        "played as suits best.",
    ]
    if why.balanced:
        lines += ["Balance of breath, which this profile weighs too, is not in these figures."]
    lines.append("")
    for note in why.notes:
        lines.append(f"beat {beat_text(note.beat)}, {note.pitch}: {_taken(note)}")
        for each in note.others:
            text = f"{each.more:+.1f}  {short_words(each.way)}{_obstacle(each)}"
            because = ", ".join(each.words)
            if because:
                text += f": {because}"
            if each.others:
                text += f"; {counted(len(each.others), 'other note')} would change with it"
            lines += textwrap.wrap(
                text, WIDTH, initial_indent="    ", subsequent_indent="          "
            )
    return "\n".join(lines)


def _taken(note: WhyNote) -> str:
    if note.taken is None:
        return "no hole sounds it with the techniques in use"
    words = short_words(note.taken)
    if note.tied:
        words += ", tied on"
    if note.pinned:
        return f"{words}, the teacher's choice"
    if not note.played:
        return f"{words}, but the repeats never reach it"
    return words if note.others else f"{words}, the only way on this harp"


def _obstacle(each: Instead) -> str:
    found = []
    if each.lacks:
        found.append(f"the profile has no {each.lacks}")
    if each.forbidden:
        found.append("ruled out by the teacher")
    return f" ({', '.join(found)})" if found else ""


def why_report(why: Why) -> dict[str, object]:
    """The same, JSON-ready (docs/choices.md)."""
    return {
        "title": why.title,
        "harp": why.harp,
        "player": why.player,
        "bar": why.bar,
        "balanced": why.balanced,
        "notes": [
            {
                "id": note.id,
                "name": note.pitch,
                "beat": round(float(note.beat), 4),
                "taken": None if note.taken is None else short_words(note.taken),
                "pinned": note.pinned,
                "tied_on": note.tied,
                "played": note.played,
                "instead": [
                    {
                        "way": short_words(each.way),
                        "more": each.more,
                        "parts": dict(each.parts),
                        "words": list(each.words),
                        "others": list(each.others),
                        "lacks": each.lacks or None,
                        "forbidden": each.forbidden,
                    }
                    for each in note.others
                ],
            }
            for note in why.notes
        ],
    }
