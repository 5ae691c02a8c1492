"""Choosing for one tune, one step after another: each is checked against the harp at once.

Public: `Session`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from typing import Any

from reedwright.datafiles import did_you_mean
from reedwright.harp.layout import note_name
from reedwright.harp.making import parse_harp
from reedwright.harp.model import Harp, Sounding
from reedwright.player.loading import load_profile
from reedwright.player.profile import Profile
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.choices.book import ChoiceBook
from reedwright.tab.choices.changing import put_aside, with_choice, with_weights, without_choices
from reedwright.tab.choices.entries import (
    NO_ORNAMENT,
    ORNAMENT_WORDS,
    amount_of,
    weight_value,
)
from reedwright.tab.choices.listing import choices_report, choices_text
from reedwright.tab.choices.model import (
    Breathe,
    Choice,
    ChoicesError,
    Never,
    Ornamented,
    Play,
    Says,
    TuneChoices,
    Way,
)
from reedwright.tab.choices.places import Placed, note_places
from reedwright.tab.choices.pointing import note_at
from reedwright.tab.choices.resolving import Resolved, choice_words, resolve
from reedwright.tab.choices.spelling import parse_way, way_words
from reedwright.tab.fingerings.different import Fingerings, best_fingerings
from reedwright.tab.ornaments.model import Origin, OrnamentKind, Outcome
from reedwright.tab.ways import allowed, preference, technique_name
from reedwright.tab.words import listed, moved_words, short_words
from reedwright.tune.model import Tune

AS_WRITTEN = "as written"
USUAL_PLAYER = "player"


@dataclass(frozen=True, slots=True)
class Session:
    """A tune and what is chosen for it so far. Every step gives a new one."""

    tune: Tune
    choices: TuneChoices
    quarters_per_minute: float | None = None

    @classmethod
    def begin(
        cls,
        book: ChoiceBook,
        tune: Tune,
        in_book: Collection[tuple[str, str]] = (),
        quarters_per_minute: float | None = None,
    ) -> Session:
        return cls(tune, book.of(tune, in_book), quarters_per_minute)

    @property
    def voice(self) -> int:
        voice = (self.choices.voice or 1) - 1
        if voice >= max(1, len(self.tune.voices)):
            raise ChoicesError(
                f"{self.tune.title}: there is no voice {voice + 1}; "
                f"the tune has {len(self.tune.voices)}"
            )
        return voice

    @property
    def harp(self) -> Harp:
        """The harp that the choices are for. Raises `ChoicesError` where none is named."""
        if not self.choices.harp:
            raise ChoicesError(
                f"{self.tune.title}: ways to play are chosen for a harp, and none is named yet. "
                "Name it with --harp, such as --harp G; it is kept with the choices"
            )
        return parse_harp(self.choices.harp)

    @property
    def profile(self) -> Profile:
        return with_weights(load_profile(self.choices.player or USUAL_PLAYER), self.choices)

    @property
    def moved(self) -> int:
        """Semitones by which the tune is moved."""
        return 12 * (self.choices.octaves or 0) + (self.choices.semitones or 0)

    @property
    def notes(self) -> tuple[Placed, ...]:
        return note_places(self.tune, self.voice)

    def resolved(self, choices: TuneChoices | None = None) -> Resolved:
        mine = choices or self.choices
        harp = parse_harp(mine.harp) if mine.harp else None
        return resolve(mine, self.tune, harp, self.voice, mine.octaves or 0, mine.semitones or 0)

    def text(self) -> str:
        return choices_text(self.choices, self.resolved())

    def report(self) -> dict[str, object]:
        return choices_report(self.kept(), self.resolved())

    def kept(self) -> TuneChoices:
        """As it is to be written: what fits no note aside, title and number as they are now."""
        mine = put_aside(self.choices, self.resolved())
        title = self.tune.titles[0] if self.tune.titles else mine.title
        return replace(mine, title=title, number=self.tune.number)

    # Settings of the whole tune.

    def with_settings(self, **settings: Any) -> Session:
        """Each by its key in the file. Raises for a harp or a player that there is not."""
        if settings.get("harp"):
            settings["harp"] = settings["harp"].strip(": ")
            parse_harp(settings["harp"])
        if settings.get("player"):
            load_profile(settings["player"])
        if "amount" in settings:
            settings["amount"] = amount_of(settings["amount"])
        found = replace(self, choices=replace(self.choices, **settings))
        _ = found.voice  # a voice that is not there is told now
        return found

    def forgetting(self, key: str) -> Session:
        """Without that setting, as if it had never been chosen."""
        return replace(self, choices=replace(self.choices, **{key: getattr(TuneChoices(), key)}))

    def with_weight(self, text: str) -> Session:
        """`leap=2`; for a weight by hole ten numbers with commas between."""
        name, equals, value = text.partition("=")
        name = name.strip().replace("-", "_")
        if not equals:
            raise ChoicesError(f"--weight '{text}': write NAME=VALUE, such as leap=2")
        try:
            numbers = [float(each) for each in value.split(",")]
        except ValueError:
            raise ChoicesError(f"--weight '{text}': '{value.strip()}' is not a number") from None
        weight = weight_value(name, numbers if name.endswith("_by_hole") else numbers[0])
        if len(numbers) > 1 and not name.endswith("_by_hole"):
            raise ChoicesError(f"--weight '{text}': this weight is one number")
        weights = {**self.choices.weights, name: weight}
        return replace(self, choices=replace(self.choices, weights=weights))

    # One note.

    def playing(self, at: str, way: str, time: int = 0) -> Session:
        note = note_at(self.notes, at)
        return self._with(note, Play(self._way(note, way)), time)

    def never(self, at: str, way: str, time: int = 0) -> Session:
        note = note_at(self.notes, at)
        return self._with(note, Never((self._way(note, way),)), time)

    def ornamented(self, at: str, kind: str, time: int = 0) -> Session:
        """An ornament by its word, `none`, or `as written` to leave it to the music again."""
        note = note_at(self.notes, at)
        word = kind.strip().casefold().replace("-", " ")
        if word == AS_WRITTEN:
            return self._without(note, (Ornamented,), time)
        if word not in ORNAMENT_WORDS:
            known = (*ORNAMENT_WORDS, AS_WRITTEN)
            raise ChoicesError(
                f"there is no ornament '{kind}'{did_you_mean(word, known)}; "
                f"there are {listed(known)}"
            )
        says = Ornamented(None if word == NO_ORNAMENT else OrnamentKind(word))
        return self._with(note, says, time)

    def breathing(self, at: str, breathe: bool, time: int = 0) -> Session:
        return self._with(note_at(self.notes, at), Breathe(breathe), time)

    def cleared(self, at: str) -> Session:
        """Without any choice for the note. Raises `ChoicesError` where it has none."""
        note = note_at(self.notes, at)
        found = self._without(note, (Play, Never, Ornamented, Breathe), None)
        if found.choices == self.choices:
            raise ChoicesError(f"{note.place.words}: nothing is chosen for that note")
        return found

    def without_aside(self) -> Session:
        unwanted = [aside.choice for aside in self.resolved().aside]
        return replace(self, choices=without_choices(self.choices, unwanted))

    def _with(self, note: Placed, says: Says, time: int) -> Session:
        if time and not self.choices.second_time:
            raise ChoicesError(
                "--time tells the second time through from the first; that needs --second-time yes"
            )
        choice = Choice(note.place._replace(time=time), says)
        return replace(self, choices=with_choice(self.choices, self.resolved(), note, choice))

    def _without(self, note: Placed, kinds: tuple[type, ...], time: int | None) -> Session:
        unwanted = [
            each.choice
            for each in self.resolved().found
            if each.note.id == note.id
            and isinstance(each.choice.says, kinds)
            and time in (None, each.choice.place.time)
        ]
        return replace(self, choices=without_choices(self.choices, unwanted))

    def _way(self, note: Placed, text: str) -> Way:
        """The way, if this harp sounds the note so. Else raises `ChoicesError` with all that do."""
        way, harp = parse_way(text), self.harp
        wanted = note.midi + self.moved
        sounding = way.on(harp)
        if sounding is not None and sounding.midi == wanted:
            return way
        name = note_name(wanted, harp)
        what = (
            f"the {harp.name} has no {way_words(way)}"
            if sounding is None
            else f"{way_words(way)} of the {harp.name} is {note_name(sounding.midi, harp)}"
        )
        by = moved_words(self.choices.octaves or 0, self.choices.semitones or 0)
        note_words = f"the note is {name}" + (f" (moved {by})" if by else "")
        ways = sorted(harp.ways.get(wanted, ()), key=preference)
        can = (
            f"{name} is {listed([short_words(each) for each in ways], 'or')}"
            if ways
            else f"this harp has no {name}"
        )
        raise ChoicesError(f"{note.place.words}: {what}, and {note_words}; {can}")

    # What comes of it.

    def arranged(self) -> Arrangement:
        mine = self.choices
        return arrange(
            self.tune,
            self.harp,
            self.profile,
            self.voice,
            mine.octaves or 0,
            mine.semitones or 0,
            self.quarters_per_minute,
            self.resolved().wishes,
        )

    def outcome(self, before: Session) -> list[str]:
        """What changed, and what it does to the tab; in sentences."""
        said = [f"{choice_words(each)}." for each in _new(before.choices, self.choices)]
        said += [f"Taken out: {choice_words(each)}." for each in _new(self.choices, before.choices)]
        said += list(self.resolved().notices)
        if not self.choices.harp:
            return [*said, "Name the harp with --harp, and what is chosen is tried on it."]
        now = self.arranged()
        said += _refused(now)
        said += self._lacking(now)
        if not before.choices.harp or not self._comparable(before):
            said += _missing(now)
            said.append(f"Effort on the {now.harp.name}: {now.effort:.1f}.")
            return said
        then = before.arranged()
        if then.missing != now.missing:
            said += _missing(now)
        said.append(
            f"Effort stays {now.effort:.1f}."
            if then.effort == now.effort
            else f"Effort {then.effort:.1f} becomes {now.effort:.1f}."
        )
        return said

    def _comparable(self, other: Session) -> bool:
        """Whether effort means the same in both: one harp, one player, one place of the tune."""
        mine, others = self.choices, other.choices
        same = ("harp", "player", "weights", "second_time", "voice")
        return self.moved == other.moved and all(
            getattr(mine, key) == getattr(others, key) for key in same
        )

    def _lacking(self, arrangement: Arrangement) -> Iterator[str]:
        lacked: dict[str, None] = {}
        for way in self.resolved().wishes.fixed.values():
            if not allowed(way, arrangement.player):
                lacked[technique_name(way)] = None
        for name in lacked:
            yield f"The profile {arrangement.player.name} has no {name}; the choice is kept."

    def fingerings(self, bars: tuple[int, ...], k: int) -> tuple[Arrangement, Fingerings]:
        """The best different fingerings of bars (printed numbers; none: the whole tune).

        Pins within the bars are set aside for it, so that all fingerings are seen; for the
        whole tune pins hold. Repeats are not written out.
        """
        here = [note for note in self.notes if note.bar in bars]
        if bars and not here:
            raise ChoicesError(
                f"{self.tune.title}: no note stands in {listed(list(map(str, bars)))}"
            )
        within = {note.id for note in here}
        plain = replace(
            self.choices,
            second_time=False,
            choices=tuple(
                each.choice
                for each in self.resolved().found
                if not each.choice.place.time
                and not (isinstance(each.choice.says, Play) and each.note.id in within)
            ),
            aside=(),
        )
        free = replace(self, choices=plain)
        arrangement = free.arranged()
        return arrangement, best_fingerings(arrangement, k, bars, wishes=free.resolved().wishes)

    def taking(self, fingerings: Fingerings, number: int) -> Session:
        """Pin the notes of one of these fingerings (from 1), where the harp leaves a choice."""
        if number > len(fingerings.found):
            there = len(fingerings.found)
            raise ChoicesError(
                f"there is no fingering {number}; there {'is' if there == 1 else 'are'} {there}"
            )
        wanted = fingerings.found[number - 1].soundings
        session = self
        harp = self.harp
        for note in self.notes:
            way: Sounding | None = wanted.get(note.id)
            if way is None or (fingerings.bars and note.bar not in fingerings.bars):
                continue
            if len(harp.ways.get(way.midi, ())) > 1:
                session = session._with(note, Play(Way.of(way)), 0)
        return session


def _new(old: TuneChoices, new: TuneChoices) -> list[Choice]:
    before = {*old.choices, *(aside.choice for aside in old.aside)}
    now = [*new.choices, *(aside.choice for aside in new.aside)]
    return [choice for choice in now if choice not in before]


def _missing(arrangement: Arrangement) -> Iterator[str]:
    """Notes that no hole is left for."""
    if arrangement.missing:
        names = listed(list(dict.fromkeys(each.pitch for each in arrangement.missing)))
        yield f"Left without a hole: {names}."


def _refused(arrangement: Arrangement) -> Iterator[str]:
    """Ornaments of the teacher's that this harp cannot play as they stand."""
    for each in arrangement.ornaments:
        if each.origin is Origin.TEACHER and each.outcome is not Outcome.AS_WRITTEN:
            yield f"Bar {each.bar}: the {each.kind} is {each.outcome}: {each.why}."
