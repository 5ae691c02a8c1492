"""One step of choosing: what the page asks for, made a change of the tune's choices.

Public: `chosen`, `Chosen`, `notices`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, NamedTuple

from reedwright.datafiles import is_path
from reedwright.harp.making import parse_harp
from reedwright.harp.model import Sounding
from reedwright.player.loading import profile_files
from reedwright.tab.choices.changing import with_choice, without_choices
from reedwright.tab.choices.entries import ORNAMENT_WORDS
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
from reedwright.tab.choices.places import Placed
from reedwright.tab.choices.resolving import choice_words
from reedwright.tab.choices.session import AS_WRITTEN, Session
from reedwright.tab.choices.spelling import parse_way, way_words
from reedwright.tab.ornaments.model import Amount, OrnamentKind
from reedwright.tab.words import listed, moved_words
from reedwright.tune.writtenout import time_of
from reedwright.web.music.arranging import best_of
from reedwright.web.music.standing import Standing
from reedwright.web.tune.model import ChoiceAsked, SettingsAsked

NONE = "none"
_BY_COMMAND = ", or take it out with --clear-aside"
BALANCE = "breath_balance"


class Chosen(NamedTuple):
    """The choices after a step, what was done in a few words, and all that is to be said of it."""

    choices: TuneChoices
    done: str
    said: tuple[str, ...]


def chosen(standing: Standing, asked: ChoiceAsked) -> Chosen:
    """Take the step.

    Where no harp is named yet, the one that the tune is shown on is named with the first choice of
    a note. Raises `ChoicesError` for what cannot be chosen, and what a harp or player raises.
    """
    before = standing.session
    if before is None or standing.stale:
        raise ChoicesError(standing.trouble or "The text has to be mended before choices are made.")
    said: list[str] = []
    mine = standing.looked.choices
    if asked.do == "set":
        after = Session(before.tune, _set(Session(before.tune, mine), asked.settings, standing))
        done = _set_words(asked.settings, after.choices)
    else:
        if not mine.harp:
            said.append(f"The {before.harp.name} is chosen with it.")
        after = replace(before, choices=_step(before, asked))
        done = _step_words(before.choices, after.choices, asked)
    kept = after.kept()
    shown = after if kept.harp else replace(after, choices=_with_harp(after, standing))
    if shown.moved != before.moved:
        by = moved_words(shown.choices.octaves or 0, shown.choices.semitones or 0)
        said.append(f"The tune is moved {by}." if by else "The tune is where it is written.")
    return Chosen(kept, done, (*said, *_outcome(before, shown)))


def _outcome(before: Session, after: Session) -> Iterator[str]:
    """What changed and what comes of it; notices that held before are not told again."""
    known = set(before.resolved().notices)
    for each in after.outcome(before):
        if each not in known:
            yield each.replace(_BY_COMMAND, "")


def notices(session: Session) -> tuple[str, ...]:
    """Choices that are not honoured just now, and why."""
    return tuple(each.replace(_BY_COMMAND, "") for each in session.resolved().notices)


def _step_words(before: TuneChoices, after: TuneChoices, asked: ChoiceAsked) -> str:
    if asked.do == "take-fingering":
        return f"fingering {asked.fingering} taken"
    new = [choice_words(each) for each in after.choices if each not in before.choices]
    gone = [choice_words(each) for each in before.choices if each not in after.choices]
    if new:
        return "; ".join(new)
    return f"taken out: {'; '.join(gone)}" if gone else "nothing changed"


def _set_words(asked: SettingsAsked, after: TuneChoices) -> str:
    words = []
    for name in sorted(asked.model_fields_set):
        value = getattr(asked, name)
        if name == "harp" and after.harp:
            words.append(f"the {parse_harp(after.harp).name}")
        else:
            said = {"": "as usual", None: "as usual", True: "yes", False: "no"}.get(value, value)
            words.append(f"{name.replace('_', ' ')} {said}")
    return ", ".join(words) or "nothing changed"


def _with_harp(session: Session, standing: Standing) -> TuneChoices:
    octaves = session.choices.octaves
    asked = (-1, 0, 1) if octaves is None else (octaves,)
    harp, moved = best_of(session, standing.harps, asked)
    return replace(session.choices, harp=harp, octaves=moved)


def _set(session: Session, asked: SettingsAsked, standing: Standing) -> TuneChoices:
    """Settings of the whole tune. Raises `ChoicesError`, and what a harp or player raises."""
    given = asked.model_fields_set
    settings: dict[str, Any] = {}
    if "player" in given:
        player = asked.player or ""
        if player and player not in profile_files():
            raise ChoicesError(f"There is no player '{player}'.")
        settings["player"] = player
    if "amount" in given:
        settings["amount"] = Amount(asked.amount) if asked.amount else None
    if "second_time" in given:
        settings["second_time"] = bool(asked.second_time)
    if "voice" in given:
        settings["voice"] = asked.voice
    if "semitones" in given:
        settings["semitones"] = asked.semitones or None
    if "octaves" in given:
        settings["octaves"] = asked.octaves
    found = replace(session, choices=replace(session.choices, **settings))
    _ = found.voice  # a voice that is not there is told now
    if "balance" in given:
        weights = {key: value for key, value in found.choices.weights.items() if key != BALANCE}
        if asked.balance is not None:
            weights[BALANCE] = float(asked.balance)
        found = replace(found, choices=replace(found.choices, weights=weights))
    if "harp" in given:
        found = replace(found, choices=_on_harp(found, asked, standing))
    return found.choices


def _on_harp(session: Session, asked: SettingsAsked, standing: Standing) -> TuneChoices:
    """On another harp, in the octave that suits it, unless that is asked for, too."""
    said = (asked.harp or "").strip(": ")
    octaves = asked.octaves if "octaves" in asked.model_fields_set else None
    if not said:
        return replace(session.choices, harp="", octaves=octaves)
    if any(is_path(part.strip()) for part in said.split(":")):
        raise ChoicesError("A harp is chosen by its key and the names of tunings, not by a file.")
    harp = parse_harp(said)
    if octaves is None:
        bare = replace(session, choices=replace(session.choices, harp="", octaves=None))
        _, octaves = best_of(bare, (harp,))
    return replace(session.choices, harp=said, octaves=octaves or None)


def _step(session: Session, asked: ChoiceAsked) -> TuneChoices:
    if asked.do == "take-fingering":
        _, fingerings = session.fingerings(tuple(asked.bars), asked.fingering)
        return session.taking(fingerings, asked.fingering).choices
    note, time = _note(session, asked)
    match asked.do:
        case "play":
            return _with(session, note, Play(_way(session, note, asked.way)), time)
        case "never":
            return _with(session, note, Never((_way(session, note, asked.way),)), time)
        case "unpin":
            return _without(session, note, (Play,), time)
        case "allow":
            return _allowed(session, note, asked.way, time)
        case "ornament":
            return _ornamented(session, note, asked.kind, time)
        case "breathe":
            if asked.breathe is None:
                return _without(session, note, (Breathe,), time)
            return _with(session, note, Breathe(asked.breathe), time)
        case _:
            return _without(session, note, (Play, Never, Ornamented, Breathe), None)


def _note(session: Session, asked: ChoiceAsked) -> tuple[Placed, int]:
    """The note, and which time through it is meant: 0 for every time."""
    written, time = time_of(asked.note)
    note = next((each for each in session.notes if each.id == written), None)
    if note is None:
        raise ChoicesError("There is no such note in the tune as it is now.")
    if not session.choices.second_time:
        return note, 0
    return note, asked.time or (time if written != asked.note else 0)


def _with(session: Session, note: Placed, says: Says, time: int) -> TuneChoices:
    choice = Choice(note.place._replace(time=time), says)
    return with_choice(session.choices, session.resolved(), note, choice)


def _without(
    session: Session, note: Placed, kinds: tuple[type, ...], time: int | None
) -> TuneChoices:
    unwanted = [
        each.choice
        for each in session.resolved().found
        if each.note.id == note.id
        and isinstance(each.choice.says, kinds)
        and time in (None, 0, each.choice.place.time)
    ]
    return without_choices(session.choices, unwanted)


def _allowed(session: Session, note: Placed, way: str, time: int) -> TuneChoices:
    """Without a prohibition of this way; of all, where none is named."""
    if not way:
        return _without(session, note, (Never,), time)
    wanted = parse_way(way)
    choices = session.choices
    for each in session.resolved().found:
        says = each.choice.says
        if each.note.id != note.id or not isinstance(says, Never) or wanted not in says.ways:
            continue
        choices = without_choices(choices, [each.choice])
        left = tuple(other for other in says.ways if other != wanted)
        if left:
            again = each.choice._replace(says=Never(left))
            choices = replace(choices, choices=(*choices.choices, again))
    return choices


def _ornamented(session: Session, note: Placed, kind: str, time: int) -> TuneChoices:
    word = " ".join(kind.casefold().replace("-", " ").split())
    if word == AS_WRITTEN:
        return _without(session, note, (Ornamented,), time)
    if word not in ORNAMENT_WORDS:
        raise ChoicesError(f"There is no such ornament; there are {listed(ORNAMENT_WORDS)}.")
    says = Ornamented(None if word == NONE else OrnamentKind(word))
    return _with(session, note, says, time)


def _way(session: Session, note: Placed, text: str) -> Way:
    """The way, where this harp sounds the note so. Else raises `ChoicesError`."""
    way = parse_way(text)
    sounding: Sounding | None = way.on(session.harp)
    if sounding is not None and sounding.midi == note.midi + session.moved:
        return way
    by = moved_words(session.choices.octaves or 0, session.choices.semitones or 0)
    moved = f" (moved {by})" if by else ""
    raise ChoicesError(
        f"{note.place.words}: {way_words(way)} of the {session.harp.name} is not {note.place.pitch}"
        f"{moved}."
    )
