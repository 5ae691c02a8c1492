"""What the web folder holds of one tune: its page's contents and its files.

Public: `TunePage`, `Task`, `work`.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, replace
from fractions import Fraction
from importlib.metadata import version
from pathlib import Path
from typing import NamedTuple

from reedwright import __version__
from reedwright.pack.book.arranging import arranged
from reedwright.pack.book.fingerprint import key_of
from reedwright.pack.book.model import PlannedTune
from reedwright.pack.pages import abc_heading
from reedwright.pack.site.drawing import inlined
from reedwright.pack.site.preview import first_part, wishes_within
from reedwright.pack.site.settings import SiteSettings
from reedwright.page.book.model import BookLook
from reedwright.page.content import LessonContent, lesson_content
from reedwright.page.engraving import Engraver, Look
from reedwright.page.settings import PageSettings
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.notation import tab_rows
from reedwright.tab.spoken import spoken_tab

SOUND_MAKERS = ("lameenc", "mutagen")  # others' programs, beside those that a page goes by
RULES = 1  # of how pages are made; another number makes all of them anew
WIDE, NARROW = (172.0, Look(6.4, 10.7)), (88.0, Look(5.6, 9.3))
"""Width in mm and look of the music on a computer's screen and on a phone held upright."""
FULL = 100  # percent


@dataclass(frozen=True, slots=True)
class TunePage:
    """All of it can be written as JSON. `wide`, `narrow`: systems as SVG elements. `files`: what
    each is, by name. `tab`: lines of the tab in words."""

    name: str
    title: str
    also: tuple[str, ...]
    kind: str
    key: str
    composer: str
    harp: str
    position: str
    facts: tuple[tuple[str, str], ...]
    signs: tuple[tuple[str, str], ...]
    wide: tuple[str, ...]
    narrow: tuple[str, ...]
    chart: str
    remarks: tuple[str, ...]
    story: tuple[tuple[str, str], ...]
    source: str
    rights: str
    tab: str
    words: str
    sold: bool
    sound: tuple[tuple[str, str], ...]
    files: tuple[tuple[str, str], ...]


class Task(NamedTuple):
    """A tune to be made: into `folder`, with its sound taken from `earlier` where that has it."""

    planned: PlannedTune
    settings: SiteSettings
    folder: Path
    earlier: Path
    tab_style: str


def sound_key(planned: PlannedTune, settings: SiteSettings) -> str:
    """Of all that the sound depends on."""
    kept = replace(planned, words="", address="", name="")
    made_by = [f"{name} {version(name)}" for name in SOUND_MAKERS]
    said = [key_of(kept, BookLook()), RULES, __version__, settings.slow, *made_by]
    return hashlib.sha256(json.dumps(said).encode()).hexdigest()


def work(task: Task) -> TunePage:
    """Write the tune's files and give its page. Raises what arranging, engraving and sound do."""
    planned, settings = task.planned, task.settings
    arrangement = whole = arranged(planned)
    if planned.sold:
        tune = first_part(planned.tune, planned.voice)
        begun = replace(
            planned,
            tune=tune,
            wishes=wishes_within(arrangement.wishes, tune),
            choices=None,
            voice=0,
            harp=arrangement.harp,
            octaves=arrangement.octaves,
        )
        arrangement = arranged(begun)
    sound = _sound(task, arrangement) if settings.sound else ()
    files = () if planned.sold else _downloads(task, arrangement)
    page = PageSettings(tab_style=task.tab_style)
    content = lesson_content(arrangement, page)
    if planned.sold:  # form and grade are the whole tune's, as in the book
        content = replace(content, facts=lesson_content(whole, page).facts)
    return _page(task, arrangement, content, sound, files)


def _page(
    task: Task,
    arrangement: Arrangement,
    content: LessonContent,
    sound: tuple[tuple[str, str], ...],
    files: tuple[tuple[str, str], ...],
) -> TunePage:
    planned = task.planned
    rows = tab_rows(arrangement, task.tab_style)
    drawn = []
    for letter, (width, look) in (("w", WIDE), ("n", NARROW)):
        engraver = Engraver(arrangement.tune, rows, arrangement.voice, width, Fraction(1))
        systems = engraver.engrave(engraver.plan(look))
        drawn.append(
            tuple(
                inlined(system.svg, f"{letter}{number}-", content.music_words, hidden=number > 0)
                for number, system in enumerate(systems)
            )
        )
    return TunePage(
        name=planned.name,
        title=content.title,
        also=content.also,
        kind=content.kind,
        key=content.key or "",
        composer=content.composer,
        harp=content.harp,
        position=content.position or "",
        facts=tuple((fact.label or "", fact.text) for fact in content.facts),
        signs=tuple((sign.sign, sign.text) for sign in content.tab_key),
        wide=drawn[0],
        narrow=drawn[1],
        chart=inlined(content.chart, "c-", content.chart_words),
        remarks=content.remarks,
        story=tuple((told.label or "", told.text) for told in content.background),
        source=content.source,
        rights=content.rights,
        tab=spoken_tab(arrangement),
        words=planned.words,
        sold=planned.sold,
        sound=sound,
        files=files,
    )


def _sound(task: Task, arrangement: Arrangement) -> tuple[tuple[str, str], ...]:
    """The tracks, at speed and slow, made or taken from the earlier folder."""
    from reedwright.sound.rendering import Wanted, render_tracks
    from reedwright.sound.settings import SoundSettings

    name = task.planned.name
    speeds = list(dict.fromkeys((FULL, task.settings.slow)))
    # No name has a dot in it, so the slow track of one tune is never called as another tune's.
    tracks = {f"{name}.mp3" if speed == FULL else f"{name}.slow.mp3": speed for speed in speeds}
    there = [task.earlier / file for file in tracks]
    if task.earlier != task.folder and all(path.is_file() for path in there):
        for path in there:
            (task.folder / path.name).write_bytes(path.read_bytes())
    else:
        render_tracks(
            arrangement,
            [Wanted(speed / FULL, task.folder / file) for file, speed in tracks.items()],
            SoundSettings(tempo=task.planned.tempo, lilt=True, count_in=True),
        )
    part = ", the first part" if task.planned.sold else ""
    return tuple(
        (file, ("at speed" if speed == FULL else f"slow, at {speed} %") + part)
        for file, speed in tracks.items()
    )


def _downloads(task: Task, arrangement: Arrangement) -> tuple[tuple[str, str], ...]:
    from reedwright.page.lesson import lesson_pdf
    from reedwright.sound.midi import write_midi
    from reedwright.sound.timing import plan
    from reedwright.tune.abc import write_abc
    from reedwright.tune.musicxml import write_musicxml

    name, tune = task.planned.name, arrangement.tune
    rows = tab_rows(arrangement, task.tab_style)
    made = {}
    for kind in task.settings.downloads:
        if kind == "pdf":
            page = lesson_pdf(arrangement, PageSettings(tab_style=task.tab_style))
            made[f"{name}.pdf"] = ("PDF page", page)
        elif kind == "abc":
            text = abc_heading(arrangement) + write_abc(tune, rows)
            made[f"{name}.abc"] = ("ABC with tab", text.encode())
        elif kind == "musicxml":
            written = write_musicxml(tune, rows, voices=(arrangement.voice,))
            made[f"{name}.musicxml"] = ("MusicXML with tab", written.encode())
        else:
            timeline = plan(arrangement.as_written(), task.planned.tempo)
            made[f"{name}.mid"] = ("MIDI", write_midi(timeline))
    for file, (_, content) in made.items():
        (task.folder / file).write_bytes(content)
    return tuple((file, what) for file, (what, _) in made.items())
