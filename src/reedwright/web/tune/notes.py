"""One note: what sounds it and why, what else could, ornaments and breath, and what each costs.

Public: `note_detail`.
"""

from __future__ import annotations

from reedwright.shelf.model import NotOnShelf
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.choices.model import Way
from reedwright.tab.choices.places import Placed
from reedwright.tab.choices.session import Session
from reedwright.tab.choices.spelling import way_words
from reedwright.tab.fingerings.why import Instead, NoSuchBar, WhyNote, why_bar
from reedwright.tab.notation import tab_sign
from reedwright.tab.ornaments.model import Ornament, OrnamentKind, Outcome
from reedwright.tab.words import counted, short_words
from reedwright.tune.model import Bar, Note
from reedwright.tune.writtenout import time_of
from reedwright.web.tune.model import (
    BreathView,
    NoteDetail,
    NowView,
    OrnamentView,
    WayView,
)
from reedwright.web.tune.viewing import Standing

NO_NOTE = "There is no such note in the tune as it is now."


def note_detail(standing: Standing, note_id: str) -> NoteDetail:
    """Raises `NotOnShelf` where the tune as it is now has no such note."""
    arrangement, session = standing.arrangement, standing.session
    if arrangement is None or session is None:
        raise NotOnShelf(NO_NOTE)
    bar, note = _found(arrangement, note_id)
    written, _ = time_of(note_id)
    place = next((each for each in session.notes if each.id == written), None)
    if place is None:
        raise NotOnShelf(NO_NOTE)
    sounding = arrangement.soundings.get(note.id)
    return NoteDetail(
        id=note_id,
        bar=bar.index,
        pitch=note.pitch.name,
        words=place.place.words[0].upper() + place.place.words[1:] + ".",
        now=None
        if sounding is None
        else NowView(
            way=way_words(Way.of(sounding)),
            sign=tab_sign(sounding),
            words=short_words(sounding),
        ),
        ways=_ways(arrangement, bar, note),
        ornaments=_ornaments(arrangement, bar, note),
        breath=_breath(arrangement, session, place, note),
    )


def _found(arrangement: Arrangement, note_id: str) -> tuple[Bar, Note]:
    voices = arrangement.plain.voices
    for bar in voices[arrangement.voice].bars if arrangement.voice < len(voices) else ():
        for note in bar.notes:
            if note.id == note_id:
                return bar, note
    raise NotOnShelf(NO_NOTE)


def _ways(arrangement: Arrangement, bar: Bar, note: Note) -> list[WayView]:
    try:
        why = why_bar(arrangement, bar.number)
    except NoSuchBar:
        return []
    told = next((each for each in why.notes if each.id == note.id), None)
    if told is None:
        return []
    found = []
    if told.taken is not None:
        found.append(
            WayView(
                way=way_words(Way.of(told.taken)),
                sign=tab_sign(told.taken),
                words=short_words(told.taken),
                effort_change=0.0,
                why=_why_taken(told),
                pinned=told.pinned,
                forbidden=False,
                current=True,
                lacks="",
            )
        )
    return found + [_instead(each, told) for each in told.others]


def _why_taken(told: WhyNote) -> list[str]:
    if told.pinned:
        return ["It is your choice."]
    if told.tied:
        return ["A tie holds it on from the note before."]
    if not told.played:
        return ["The repeats never reach this note."]
    if not told.others:
        return ["It is the only way on this harp."]
    easiest = min(told.others, key=lambda each: each.more)
    if easiest.more < 0:
        return ["Another choice makes it so; without it another way would be easier."]
    return ["It is the least effort for the tune as a whole."]


def _instead(each: Instead, told: WhyNote) -> WayView:
    why = list(each.words)
    if each.others:
        why.append(f"{counted(len(each.others), 'other note')} would change with it")
    if each.lacks:
        why.append(f"the player has no {each.lacks}")
    return WayView(
        way=way_words(Way.of(each.way)),
        sign=tab_sign(each.way),
        words=short_words(each.way),
        effort_change=each.more,
        why=why,
        pinned=False,
        forbidden=each.forbidden,
        current=False,
        lacks=each.lacks,
    )


def _ornaments(arrangement: Arrangement, bar: Bar, note: Note) -> list[OrnamentView]:
    """Every kind of ornament: what is there, and what the tune's effort would be with another."""
    there = next((each for each in arrangement.ornaments if each.note_id == note.id), None)
    kinds: list[OrnamentKind] = [kind for kind in OrnamentKind if kind is not OrnamentKind.GRACES]
    if there is not None and there.kind is OrnamentKind.GRACES:
        kinds.append(OrnamentKind.GRACES)
    return [_ornament(arrangement, bar, note, kind, there) for kind in kinds]


def _ornament(
    arrangement: Arrangement, bar: Bar, note: Note, kind: OrnamentKind, there: Ornament | None
) -> OrnamentView:
    if there is not None and there.kind is kind:
        return OrnamentView(
            kind=kind.value,
            word=kind.value,
            possible=there.outcome is not Outcome.LEFT_OUT,
            why=there.why,
            effort_change=0.0,
            chosen=True,
        )
    return OrnamentView(
        kind=kind.value, word=kind.value, possible=True, why="", effort_change=None, chosen=False
    )


def _breath(arrangement: Arrangement, session: Session, place: Placed, note: Note) -> BreathView:
    wish = arrangement.wishes.breaths.get(note.id)
    mark = next((each for each in arrangement.breaths if each.note_id == note.id), None)
    now = mark is not None or wish is True
    why = "" if mark is None else f"It lies at the {mark.reason.value}."
    if wish is not None:
        why = "It is your choice." if wish else "You want none here."
    return BreathView(possible=True, now=now, wish=wish, why=why)
