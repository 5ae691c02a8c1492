"""One note: what sounds it and why, what else could, ornaments and breath, and what each costs.

Public: `note_detail`.
"""

from __future__ import annotations

import re
from dataclasses import replace

from reedwright.shelf.model import NotOnShelf
from reedwright.tab.arrange import posed_again
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath.model import BreathReason
from reedwright.tab.choices.model import Way
from reedwright.tab.choices.spelling import way_words
from reedwright.tab.effort import SCALE
from reedwright.tab.fingerings.why import Instead, NoSuchBar, WhyNote, why_bar
from reedwright.tab.notation import tab_sign
from reedwright.tab.ornaments.model import Origin, Ornament, OrnamentKind, Outcome
from reedwright.tab.ornaments.plan import placed
from reedwright.tab.ornaments.playable import ornamenting
from reedwright.tab.solver import solve
from reedwright.tab.words import counted, short_words, with_article
from reedwright.tune.model import Bar, Note
from reedwright.tune.writtenout import time_of
from reedwright.web.music.standing import Standing
from reedwright.web.tune.model import BreathView, NoteDetail, NowView, OrnamentView, WayView

HELD = "a tie only holds the note on there"
NO_NOTE = "There is no such note in the tune as it is now."


_BREATHS = {
    BreathReason.PART_END: "The part ends here.",
    BreathReason.PHRASE_END: "The phrase ends here.",
    BreathReason.LONG_NOTE: "The long note can end early for it.",
    BreathReason.BETWEEN: "It is snatched between two notes.",
    BreathReason.DROPPED_NOTE: "The note itself is left out for it.",
    BreathReason.TEACHER: "It is your choice.",
}


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
        breath=_breath(arrangement, note),
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
    problem = posed_again(arrangement)
    unknown = next((each for each in problem.chain.unknowns if note.id in each.ids), None)
    if unknown is None:
        why = "the repeats never reach this note"
        return [_impossible(kind, why) for kind in kinds]
    if note.id != unknown.ids[0]:
        return [_impossible(kind, HELD) for kind in kinds]
    least = int(solve(problem.problems)[0][0])
    return [
        _there(there)
        if there is not None and there.kind is kind
        else _another(arrangement, bar, note, kind, least)
        for kind in kinds
    ]


def _there(ornament: Ornament) -> OrnamentView:
    return OrnamentView(
        kind=ornament.kind.value,
        word=ornament.kind.value,
        possible=ornament.outcome is not Outcome.LEFT_OUT,
        why=ornament.why,
        effort_change=0.0,
        chosen=True,
    )


def _another(
    arrangement: Arrangement, bar: Bar, note: Note, kind: OrnamentKind, least: int
) -> OrnamentView:
    """The tune solved anew with this ornament on the note."""
    wishes = arrangement.wishes
    wishes = replace(wishes, ornaments={**wishes.ornaments, note.id: kind})
    problem = posed_again(arrangement, wishes)
    cost, states = solve(problem.problems)
    place = next(i for i, each in enumerate(problem.chain.unknowns) if note.id in each.ids)
    main = problem.chosen(states[:, 0].tolist())[place]
    has = ornamenting(arrangement.harp, arrangement.player)
    found = placed(note, main, kind, bar.number, Origin.TEACHER, has)
    if found.outcome is Outcome.LEFT_OUT:
        return _impossible(kind, found.why)
    why = found.why if found.kind is kind else f"{with_article(found.kind.value)}: {found.why}"
    return OrnamentView(
        kind=kind.value,
        word=kind.value,
        possible=True,
        why=why,
        effort_change=(int(cost[0]) - least) / SCALE,
        chosen=False,
    )


def _impossible(kind: OrnamentKind, why: str) -> OrnamentView:
    return OrnamentView(
        kind=kind.value, word=kind.value, possible=False, why=why, effort_change=None, chosen=False
    )


def _breath(arrangement: Arrangement, note: Note) -> BreathView:
    wish = arrangement.wishes.breaths.get(note.id)
    ids = {note.id, *(each.id for each in _pieces(arrangement, note.id))}
    mark = next((each for each in arrangement.breaths if each.note_id in ids), None)
    if mark is None and _held_on(arrangement, note):
        why = "A tie holds the note on; a breath comes after the last note of the tie."
        return BreathView(possible=False, now=False, wish=wish, why=why)
    if wish is not None:
        why = "It is your choice." if wish else "You want none here."
    elif mark is None:
        why = ""
    elif mark.origin is Origin.WRITTEN:
        why = "It is written in the tune."
    else:
        why = _BREATHS[mark.reason]
    return BreathView(possible=True, now=mark is not None, wish=wish, why=why)


def _pieces(arrangement: Arrangement, note_id: str) -> list[Note]:
    """The notes that a roll or triplet splits the note into."""
    voice = arrangement.tune.voices[arrangement.voice]
    return [note for note in voice.notes if re.fullmatch(rf"{note_id}s\d+", note.id)]


def _held_on(arrangement: Arrangement, note: Note) -> bool:
    """Whether a tie goes on from it to the next note."""
    notes = list(arrangement.plain.voices[arrangement.voice].notes)
    at = next((k for k, each in enumerate(notes) if each.id == note.id), len(notes))
    following = notes[at + 1] if at + 1 < len(notes) else None
    return note.tied and following is not None and following.pitch == note.pitch
