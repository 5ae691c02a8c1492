"""One step of choosing: what the page asks for, made a change of the tune's choices.

Public: `chosen`, `Unknown`.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

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
from reedwright.tab.choices.session import AS_WRITTEN, Session
from reedwright.tab.choices.spelling import parse_way, way_words
from reedwright.tab.ornaments.model import Amount, OrnamentKind
from reedwright.tab.words import listed, moved_words
from reedwright.tune.writtenout import time_of
from reedwright.web.music.arranging import best_of
from reedwright.web.tune.model import ChoiceAsked, SettingsAsked
from reedwright.web.tune.viewing import Standing

NONE = "none"
BALANCE = "breath_balance"


def chosen(standing: Standing, asked: ChoiceAsked) -> tuple[TuneChoices, tuple[str, ...]]:
    """The choices after the step, and what is to be said of it.

    Where no harp is named yet, the one that the tune is shown on is named with the first choice of
    a note. Raises `ChoicesError` for what cannot be chosen.
    """
    before = standing.session
    if before is None:
        raise ChoicesError(standing.trouble or "The text has to be mended before choices are made.")
    if standing.stale:
        raise ChoicesError("The text has to be mended before choices are made.")
    said: list[str] = []
    mine = standing.looked.choices
    if asked.do == "set":
        after = Session(before.tune, _set(Session(before.tune, mine), asked.settings, standing))
    else:
        if not mine.harp:
            said.append(f"The {parse_harp(before.choices.harp).name} is chosen with it.")
        after = replace(before, choices=_step(before, asked))
    kept = after.kept()
    shown = after if kept.harp else replace(after, choices=_with_harp(after, standing))
    return kept, (*said, *_outcome(before, shown))


def _outcome(before: Session, after: Session) -> list[str]:
    return [
        each.replace("Name the harp with --harp, and what is chosen is tried on it.", "")
        for each in after.outcome(before)
    ]


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
