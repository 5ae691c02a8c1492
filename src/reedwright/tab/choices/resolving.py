"""From a teacher's choices to what the arranger takes: wishes by the id of a note.

Public: `resolve`, `Resolved`, `Found`.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from reedwright.harp.layout import note_name
from reedwright.harp.model import Harp, Sounding
from reedwright.tab.choices.finding import find_notes
from reedwright.tab.choices.model import (
    Aside,
    Breathe,
    Choice,
    Never,
    Ornamented,
    Play,
    TuneChoices,
    Way,
)
from reedwright.tab.choices.places import Placed, note_places
from reedwright.tab.choices.spelling import way_words
from reedwright.tab.ornaments.model import Amount, OrnamentKind
from reedwright.tab.wishes import Wishes
from reedwright.tab.words import with_article
from reedwright.tune.model import Tune

FITS_AGAIN = "fits again, and is taken up"


@dataclass(frozen=True, slots=True)
class Found:
    """A choice and its note in the tune as it is now. `again`: it had been put aside."""

    choice: Choice
    note: Placed
    again: bool = False


@dataclass(frozen=True, slots=True)
class Resolved:
    """Choices that found their notes. Each notice is a sentence or two for the teacher.

    `found` are those that stand on a note, `aside` those that do not, with the reason;
    together they are all that there are.
    """

    wishes: Wishes
    notices: tuple[str, ...]
    found: tuple[Found, ...]
    aside: tuple[Aside, ...]


def resolve(
    choices: TuneChoices,
    tune: Tune,
    harp: Harp | None,
    voice: int = 0,
    octaves: int = 0,
    semitones: int = 0,
) -> Resolved:
    """Find the note of every choice in `tune` (as written, not moved), and what it asks there.

    The wishes are by id of the tune moved by `octaves` and `semitones`, and written out
    where the choices say `second_time`. A way that this harp cannot take for its note is a
    notice: it is kept in the file and not honoured here. With no harp (None) only places are
    found, and there are no wishes for ways.
    """
    notes = note_places(tune, voice)
    tried = [*choices.choices, *(aside.choice for aside in choices.aside)]
    places = find_notes(tried, notes)
    found: list[Found] = []
    aside: list[Aside] = []
    notices: list[str] = []
    for index, choice in enumerate(tried):
        again = index >= len(choices.choices)
        if index in places:
            found.append(Found(choice, places[index], again))
            if again:
                notices.append(f"{choice_words(choice)}: it {FITS_AGAIN}.")
        else:
            reason = _reason(choice, notes)
            aside.append(Aside(choice, reason))
            notices.append(
                f"{choice_words(choice)}: {reason}. It is kept, and not honoured; "
                "choose again where you want it, or take it out with --clear-aside."
            )
    asked = _Asked(harp, 12 * octaves + semitones, notices, _times(choices, tune, voice))
    for each in found:
        asked.add(each)
    return Resolved(asked.wishes(choices), tuple(asked.notices), tuple(found), tuple(aside))


def choice_words(choice: Choice) -> str:
    """`part A bar 3 beat 2, B4: play 2 draw`, to begin a notice."""
    return f"{choice.place.words[0].upper()}{choice.place.words[1:]}: {says_words(choice)}"


def says_words(choice: Choice) -> str:
    """What it asks: `play 2 draw`, `never 3 blow`, `a cut`, `a breath after it`."""
    match choice.says:
        case Play(way):
            return f"play {way_words(way)}"
        case Never(ways):
            return f"never {' or '.join(way_words(way) for way in ways)}"
        case Ornamented(kind):
            return "no ornament" if kind is None else _with_article(kind)
        case Breathe(breathe):
            return "a breath after it" if breathe else "no breath after it"


def _with_article(kind: OrnamentKind) -> str:
    return kind.value if kind is OrnamentKind.GRACES else with_article(kind.value)


def _reason(choice: Choice, notes: tuple[Placed, ...]) -> str:
    """Why it stands on no note."""
    place = choice.place
    part = [note for note in notes if note.place.part == place.part]
    if not part:
        return f"the tune has no part {place.part} now" if notes else "the tune has no notes"
    bar = [note for note in part if note.place.bar == place.bar]
    if not bar:
        last = max(note.place.bar for note in part)
        return f"part {place.part} has no bar {place.bar} now; its last is {last}"
    if any(note.place.beat == place.beat and note.place.pitch == place.pitch for note in bar):
        return "another choice stands on that note already"
    there = next((note for note in bar if note.place.beat == place.beat), None)
    if there is None:
        return f"no {place.pitch} is near that beat now"
    return f"the note there is {there.place.pitch} now"


def _times(choices: TuneChoices, tune: Tune, voice: int) -> frozenset[str] | None:
    """All ids of the tune written out, or None where it is not."""
    if not choices.second_time:
        return None
    from reedwright.tune.writtenout import written_out

    out = written_out(tune, voice)
    return frozenset(note.id for each in out.voices for note in each.notes)


class _Asked:
    """Gathers wishes, and notices on what this harp cannot do."""

    def __init__(
        self, harp: Harp | None, moved: int, notices: list[str], written_out: frozenset[str] | None
    ) -> None:
        self.harp = harp
        self.moved = moved
        self.notices = notices
        self.written_out = written_out
        self.fixed: dict[str, Sounding] = {}
        self.forbidden: defaultdict[str, set[Sounding]] = defaultdict(set)
        self.ornaments: dict[str, OrnamentKind | None] = {}
        self.breaths: dict[str, bool] = {}

    def add(self, found: Found) -> None:
        choice, note = found.choice, found.note
        ids = self._ids(note.id, choice.place.time)
        if not ids:
            self.notices.append(
                f"{choice_words(choice)}: the repeats are not written out so that the note has a "
                f"time {choice.place.time}. Set second_time = true, or take the time out."
            )
        harp = self.harp
        match choice.says:
            case Play(way) if harp is not None:
                sounding = self._sounding(harp, way, note, choice)
                if sounding is not None:
                    self.fixed |= dict.fromkeys(ids, sounding)
            case Never(ways) if harp is not None:
                for way in ways:
                    sounding = way.on(harp)
                    if sounding is not None and sounding.midi == note.midi + self.moved:
                        for id_ in ids:
                            self.forbidden[id_].add(sounding)
            case Ornamented(kind):
                self.ornaments |= dict.fromkeys(ids, kind)
            case Breathe(breathe):
                self.breaths |= dict.fromkeys(ids, breathe)

    def _ids(self, id_: str, time: int) -> tuple[str, ...]:
        """The note as often as it stands in the tune to be played, or that one time."""
        if self.written_out is None:
            return (id_,) if time <= 1 else ()
        ids = [id_] if id_ in self.written_out else []
        while (next_time := f"{id_}t{len(ids) + 1}") in self.written_out:
            ids.append(next_time)
        return tuple(ids if time == 0 else ids[time - 1 : time])

    def _sounding(self, harp: Harp, way: Way, note: Placed, choice: Choice) -> Sounding | None:
        sounding = way.on(harp)
        wanted = note.midi + self.moved
        if sounding is not None and sounding.midi == wanted:
            return sounding
        name = note_name(wanted, harp)
        has = (
            "has no such note"
            if sounding is None
            else f"has {note_name(sounding.midi, harp)} there"
        )
        self.notices.append(
            f"{choice_words(choice)}: made for another harp or octave; the {harp.name} {has}, "
            f"and {name} is asked for. It is kept, and not honoured here."
        )
        return None

    def wishes(self, choices: TuneChoices) -> Wishes:
        forbidden = {id_: frozenset(ways) for id_, ways in self.forbidden.items()}
        return Wishes(
            fixed=self.fixed,
            forbidden=forbidden,
            amount=choices.amount or Amount.WRITTEN,
            second_time=choices.second_time,
            ornaments=self.ornaments,
            breaths=self.breaths,
        )
