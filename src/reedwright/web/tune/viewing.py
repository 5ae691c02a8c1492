"""The view of a tune: what the shelf keeps of it, arranged and drawn.

Public: `view_of`, `remarks_of`.
"""

from __future__ import annotations

import logging
import re
import threading
from collections.abc import Iterator

from reedwright.errors import ReedwrightError
from reedwright.harp.making import parse_harp
from reedwright.harp.position import position, position_name
from reedwright.page.content import signs_in_print
from reedwright.player.loading import profile_files
from reedwright.player.profile import Profile
from reedwright.processes import cores
from reedwright.shelf.belongings.harps import harps_on
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.together import to_redo, to_undo
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.choices.session import USUAL_PLAYER
from reedwright.tab.notation import MISSING, tab_sign
from reedwright.tab.words import short_words
from reedwright.tune.model import Bar, Tune
from reedwright.tune.tempo import quarters_per_minute
from reedwright.tune.writtenout import time_of
from reedwright.web.music.arranging import KEYS
from reedwright.web.music.drawing import WIDTHS, Sheet, known_notes, practice_notes, sheet
from reedwright.web.music.opening import Looked
from reedwright.web.music.standing import Standing, stand, version_between
from reedwright.web.tune.choosing import notices
from reedwright.web.tune.model import (
    BarView,
    NoteView,
    ProblemView,
    Remarks,
    SheetView,
    View,
    WidthName,
)

_LOG = logging.getLogger("reedwright.web")

# One after the other is quicker for all than all at once: of twenty the first need not wait for the
# last. One more than there are cores, as some of the time goes to the disk.
_AT_ONCE = threading.BoundedSemaphore(cores() + 1)

# One note or chord of ABC with its length and tie (ABC 2.1, section 4), as far as it is marked.
_NOTE = re.compile(r"(?:\[[^\]|]*\]|[\^_=]*[A-Ga-gxzZ][,']*)(?:\d+/?\d*|/+\d*)?(?:-|[<>]+)?")


def view_of(
    shelf: Shelf, number: int, width: WidthName = "wide", said: tuple[str, ...] = ()
) -> View:
    """All that the page shows of a tune. Raises as `looked_at`."""
    with _AT_ONCE:
        return _view_of(shelf, number, width, said)


def _view_of(shelf: Shelf, number: int, width: WidthName, said: tuple[str, ...]) -> View:
    standing = stand(shelf, number)
    looked = standing.looked
    undo = to_undo(looked.item, looked.arrangement)
    redo = to_redo(shelf, looked.item, looked.arrangement)
    drawn, trouble = _drawn(standing, width)
    problems = [ProblemView(**each._asdict()) for each in looked.problems]
    if trouble:
        problems.append(ProblemView(line=1, column=1, length=1, message=trouble, severity="error"))
    choices = looked.choices
    arrangement, session = standing.arrangement, standing.session
    bars, notes = _written(standing) if drawn else ([], [])
    return View(
        tune=number,
        title=_title(looked),
        version=version_between(looked.item, looked.arrangement),
        text=looked.text,
        editable=looked.editable,
        readable=looked.tune is not None,
        problems=problems,
        sheet=None if drawn is None or arrangement is None else _sheet_view(drawn, arrangement),
        stale_sheet=standing.stale and drawn is not None,
        bars=bars,
        notes=notes,
        harp=choices.harp,
        harp_name=signs_in_print(arrangement.harp.name) if arrangement else "",
        position=_position(arrangement) if arrangement else "",
        octaves=arrangement.octaves if arrangement else choices.octaves or 0,
        semitones=choices.semitones or 0,
        player=choices.player or USUAL_PLAYER,
        voice=choices.voice or 1,
        voices=_voices(looked.tune),
        amount=choices.amount.value if choices.amount else "",
        second_time=choices.second_time,
        balance=_balance(session.profile) if session else 0.0,
        speed_quarters=quarters_per_minute(arrangement.tune) if arrangement else 0.0,
        can_undo=undo is not None,
        can_redo=redo is not None,
        undo_says=undo.state.said if undo else "",
        redo_says=redo[1].said if redo else "",
        said=list(said),
        notices=list(notices(session)) if session else [],
        harps=_harps(shelf),
        players=[(name, name.replace("-", " ")) for name in profile_files()],
    )


def _drawn(standing: Standing, width: WidthName) -> tuple[Sheet | None, str]:
    """The music, or why there is none. Whatever happens, the text can still be mended."""
    if standing.arrangement is None:
        return None, standing.trouble
    try:
        return sheet(standing.arrangement, WIDTHS[width]), ""
    except ReedwrightError as error:
        return None, str(error)
    except Exception:
        _LOG.exception("While drawing the tune %s", standing.looked.item.id)
        return None, "The music could not be drawn: a fault of Reedwright. The text is saved."


def _sheet_view(drawn: Sheet, arrangement: Arrangement) -> SheetView:
    notes = known_notes(arrangement)
    return SheetView(
        systems=list(drawn.systems),
        chart=drawn.chart,
        words=drawn.words,
        tab=drawn.tab,
        signs=list(drawn.signs),
        facts=list(drawn.facts),
        remarks=None if notes is None else list(notes),
    )


def remarks_of(standing: Standing) -> Remarks:
    """Notes on practice; none where there is no music."""
    looked, arrangement = standing.looked, standing.arrangement
    notes = () if arrangement is None else practice_notes(arrangement)
    return Remarks(version=version_between(looked.item, looked.arrangement), remarks=list(notes))


def _title(looked: Looked) -> str:
    if looked.tune is not None and looked.tune.titles:
        return looked.tune.title
    return looked.item.name


def _voices(tune: Tune | None) -> list[tuple[int, str]]:
    voices = tune.voices if tune else ()
    return [(at, voice.title or f"voice {voice.name}") for at, voice in enumerate(voices, 1)]


def _position(arrangement: Arrangement) -> str:
    key = arrangement.tune.key
    if key.mode == "none":
        return ""
    return f"{position_name(position(key.tonic_pitch_class, arrangement.harp))} position"


def _balance(profile: Profile) -> float:
    return float(profile.weights.breath_balance)


def _harps(shelf: Shelf) -> list[tuple[str, str]]:
    """What can be chosen: the harps on the shelf by their own names, else one in every key."""
    from reedwright.harp.written import harp_text

    owned = [(harp_text(harp), f"{item.name} ({harp.name})") for item, harp in harps_on(shelf)]
    return owned or [(key, signs_in_print(parse_harp(key).name)) for key in KEYS]


def _written(standing: Standing) -> tuple[list[BarView], list[NoteView]]:
    """Bars and notes as they are drawn, with their places in the text."""
    arrangement = standing.arrangement
    assert arrangement is not None
    plain = arrangement.plain
    if arrangement.voice >= len(plain.voices):
        return [], []
    lines = standing.looked.text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    places = {} if standing.stale else standing.looked.places
    bars: list[BarView] = []
    notes: list[NoteView] = []
    for bar in plain.voices[arrangement.voice].bars:
        mine = list(_notes(arrangement, bar, places, lines))
        notes += mine
        there = [each for each in mine if each.line]
        first = (there[0].line, there[0].column) if there else (0, 0)
        last = (there[-1].line, there[-1].column + there[-1].length) if there else (0, 0)
        bars.append(
            BarView(
                index=bar.index,
                number=bar.number,
                notes=[each.id for each in mine],
                line=first[0],
                column=first[1],
                end_line=last[0],
                end_column=last[1],
            )
        )
    return bars, notes


def _notes(
    arrangement: Arrangement,
    bar: Bar,
    places: dict[str, tuple[int, int]],
    lines: list[str],
) -> Iterator[NoteView]:
    for note in bar.notes:
        line, column = places.get(time_of(note.id)[0], (0, 0))
        sounding = arrangement.soundings.get(note.id)
        yield NoteView(
            id=note.id,
            line=line,
            column=column,
            length=_length(lines, line, column) if line else 0,
            bar=bar.index,
            pitch=note.pitch.name,
            tab=tab_sign(sounding) if sounding else MISSING,
            way=short_words(sounding) if sounding else "",
            way_words=f"hole {short_words(sounding)}" if sounding else "not on this harp",
            pinned=note.id in arrangement.wishes.fixed,
        )


def _length(lines: list[str], line: int, column: int) -> int:
    text = lines[line - 1] if line <= len(lines) else ""
    found = _NOTE.match(text, max(0, column - 1))
    return max(1, len(found[0])) if found else 1
