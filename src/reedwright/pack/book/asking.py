"""What the file of a plan asks for, checked key by key; no tune is read yet.

docs/book.md describes the file. Public: `read_asked`.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from reedwright.datafiles import read_toml
from reedwright.errors import ReedwrightError
from reedwright.harp.making import REGISTERS
from reedwright.pack.book.asked import (
    FEWEST,
    FORM,
    HARP_WORDS,
    Asked,
    AskedChapter,
    AskedFewest,
    AskedTune,
    Overrides,
)
from reedwright.pack.book.chapters import GROUPS, ORDERS
from reedwright.pack.book.planlines import PlanLines
from reedwright.pack.book.plantable import PlanError, PlanTable
from reedwright.page.book.model import BookLook
from reedwright.tab.notation import TabStyle

LINKS = ("qr", "text", "none")
MOST_OCTAVES, MOST_SEMITONES = 4, 11
USUAL_ABOVE_BEST = 0.5
"""Effort a note that a tune may take beyond what it takes on its best harp: about a breath change
in every other note. An assumption: our judgement, no source."""
MOST_EFFORT = 100  # a note; a missing note is 25
SLOWEST, FASTEST = 10, 1000  # quarter notes a minute; nobody plays outside of these (our judgement)

_PLAN_KEYS = (
    "form", "title", "subtitle", "maker", "preface", "imprint", "rights", "credits", "player",
    "harps", "sources", "search", "tunes", "chapters", "order", "choices", "amount", "second_time",
    "base_address", "look", "chapter", "tune", "fewest",
)  # fmt: skip
_CHAPTER_KEYS = ("title", "words", "file", "tunes", "search")
_NAMING_KEYS = ("tune", "number", "file")
_OVERRIDES = (
    "harp", "tuning", "valves", "octave", "semitones", "voice", "tempo", "amount", "second_time",
    "words", "address", "sold", "choices", "player",
)  # fmt: skip
_FEWEST_KEYS = (
    "harps", "owned", "owned_counts", "must", "never", "effort", "above_best", "no_bends", "most",
    "odd", "most_odd", "registers",
)  # fmt: skip
_LOOK_KEYS = (
    "paper", "style", "colour", "bleed", "crop_marks", "two_sided", "two_to_a_page", "links",
    "full_notes", "template",
)  # fmt: skip


def read_asked(path: Path) -> Asked:
    """Read and check the file. Raises `PlanError` with file, line, key and what to do."""
    file = read_toml(path, "plan", PlanError)
    return _plan(PlanTable(path, PlanLines(file.text), file.values))


def _plan(top: PlanTable) -> Asked:
    values = top.values
    form = values.get("form", FORM)
    if not isinstance(form, int) or isinstance(form, bool) or form < 1:
        raise top.refuse("form", f"'form' must be {FORM}")
    if form > FORM:
        raise top.refuse(
            "form",
            f"the plan has form {form}, and this version of Reedwright knows form {FORM}. "
            "Take a newer version",
        )
    top.check(_PLAN_KEYS)
    chapters = top.tables("chapter")
    if chapters and "chapters" in values and values["chapters"] != "own":
        raise top.refuse(
            "chapters", "there are [[chapter]] tables of your own, too; leave one of them out"
        )
    if chapters and "tunes" in values:
        raise top.refuse("tunes", "the tunes stand under [[chapter]]; put these there, too")
    special = [_tune(top, entry, ("tune", nth)) for nth, entry in enumerate(top.tables("tune"))]
    return Asked(
        path=top.path,
        title=top.text("title") or top.path.stem.replace("-", " ").capitalize(),
        subtitle=top.text("subtitle"),
        maker=top.text("maker"),
        preface=top.paragraphs("preface"),
        imprint=top.texts("imprint"),
        rights=top.text("rights"),
        credits=top.texts("credits"),
        player=top.text("player"),
        harps=_harps(top),
        sources=top.texts("sources"),
        source_lines=tuple(top.where_text(source) for source in top.texts("sources")),
        search=top.table("search"),
        tunes=_tunes(top, "tunes"),
        chapters=tuple(
            _chapter(top.inner(entry, ("chapter", nth))) for nth, entry in enumerate(chapters)
        ),
        by=top.one_of("chapters", GROUPS, "own"),
        order=top.one_of("order", ORDERS, "given"),
        choices=top.flag("choices") is not False,
        amount=top.amount("amount"),
        second_time=bool(top.flag("second_time")),
        base_address=top.address("base_address"),
        look=_look(top),
        special=tuple(special),
        fewest=_fewest(top),
    )


def _harps(top: PlanTable) -> tuple[str, ...] | str:
    value = top.values.get("harps", "")
    if isinstance(value, str) and value.strip() in ("", *HARP_WORDS):
        return value.strip()
    return top.texts("harps")


def _chapter(table: PlanTable) -> AskedChapter:
    table.check(_CHAPTER_KEYS)
    title = table.text("title")
    if not title:
        raise table.refuse("title", "a chapter needs a title")
    tunes = _tunes(table, "chapter.tunes")
    search = table.table("search")
    if tunes is None and not table.text("file") and search is None:
        raise table.refuse(
            "title", f"the chapter '{title}' names no tunes; give it 'tunes', 'file' or 'search'"
        )
    return AskedChapter(
        title, table.text("words"), table.text("file"), tunes, search, table.where("title")
    )


def _tunes(table: PlanTable, header: str) -> tuple[AskedTune, ...] | None:
    """A list of texts and tables, or `[[tunes]]` tables."""
    key = "tunes"
    value = table.values.get(key)
    if value is None:
        return None
    if not isinstance(value, list):
        raise table.refuse(key, f"'{key}' must be a list of titles or numbers in brackets")
    found = []
    for nth, entry in enumerate(value):
        if isinstance(entry, Mapping):
            found.append(_tune(table, entry, (header, nth)))
        elif isinstance(entry, str | int) and not isinstance(entry, bool) and str(entry):
            text = str(entry).strip()
            found.append(AskedTune(text, where=table.where_text(text)))
        else:
            raise table.refuse(key, f"'{key}' has {entry!r}; write a title, a number or a table")
    return tuple(found)


def _tune(outer: PlanTable, values: Mapping[str, Any], section: tuple[str, int]) -> AskedTune:
    named = values.get("tune", "")
    table = outer.inner(values, section, named if isinstance(named, str) else "")
    table.check((*_NAMING_KEYS, *_OVERRIDES))
    number = values.get("number", "")
    if isinstance(named, int) and not isinstance(named, bool):
        named = str(named)
    if not isinstance(named, str) or not (named.strip() or number):
        where = table.where() if table.stands_alone else outer.where("tunes")
        raise PlanError(f'{where}: say which tune: tune = "its title or number"')
    return AskedTune(
        named.strip(),
        str(number).strip(),
        table.text("file"),
        _overrides(table),
        table.where("tune"),
    )


def _overrides(table: PlanTable) -> Overrides:
    values = table.values
    choices: Path | bool | None = None
    if isinstance(values.get("choices"), str):
        choices = table.path.parent / Path(table.text("choices")).expanduser()
    elif "choices" in values:
        choices = table.flag("choices")
    if values.get("valves") and not values.get("harp"):
        raise table.refuse("valves", "'valves' needs a harp: name its key with 'harp'")
    return Overrides(
        harp=table.text("harp"),
        tuning=table.text("tuning"),
        valves=table.text("valves"),
        octave=table.whole("octave", -MOST_OCTAVES, MOST_OCTAVES),
        semitones=table.whole("semitones", -MOST_SEMITONES, MOST_SEMITONES),
        voice=table.whole("voice", 1, 99),
        tempo=table.number("tempo", SLOWEST, FASTEST),
        amount=table.amount("amount"),
        second_time=table.flag("second_time"),
        words=table.text("words"),
        address=table.address("address"),
        sold=table.flag("sold"),
        choices=choices,
        player=table.text("player"),
    )


def _fewest(top: PlanTable) -> AskedFewest | None:
    if top.values.get("harps") != FEWEST:
        if "fewest" in top.values:
            raise top.refuse("fewest", '[fewest] goes with harps = "fewest" above all tables')
        return None
    table = top.inner(top.table("fewest") or {}, ("fewest", 0))
    table.check(_FEWEST_KEYS)
    for register in table.texts("registers"):
        if register not in REGISTERS:
            raise table.refuse("registers", f"'registers' are any of {', '.join(REGISTERS)}")
    counts = table.number("owned_counts", 0, 1)
    above_best = table.number("above_best", 0, MOST_EFFORT)
    if not {"effort", "above_best", "no_bends"} & set(table.values):
        above_best = USUAL_ABOVE_BEST
    return AskedFewest(
        harps=table.texts("harps"),
        owned=table.texts("owned") if "owned" in table.values else None,
        owned_counts=1.0 if counts is None else counts,
        must=table.texts("must"),
        never=table.texts("never"),
        effort=table.number("effort", 0, MOST_EFFORT),
        above_best=above_best,
        no_bends=bool(table.flag("no_bends")),
        most=table.whole("most", 1, 99),
        odd=table.flag("odd") is not False,
        most_odd=table.whole("most_odd", 0, 99),
        registers=table.texts("registers"),
    )


def _look(top: PlanTable) -> BookLook:
    table = top.inner(top.table("look") or {}, ("look", 0))
    table.check(_LOOK_KEYS)
    usual = BookLook()
    template = table.text("template")
    flags = {
        key: usual_flag if table.flag(key) is None else bool(table.flag(key))
        for key, usual_flag in (
            ("colour", usual.colour),
            ("crop_marks", usual.crop_marks),
            ("two_sided", usual.two_sided),
            ("two_to_a_page", usual.two_to_a_page),
            ("full_notes", usual.full_notes),
        )
    }
    try:
        return BookLook(
            paper=table.text("paper").lower() or usual.paper,
            tab_style=table.one_of("style", tuple(TabStyle), usual.tab_style),
            bleed=table.number("bleed", 0, 10) or 0.0,
            links=table.one_of("links", LINKS, usual.links),
            template=table.path.parent / Path(template).expanduser() if template else None,
            **flags,
        )
    except PlanError:
        raise
    except ReedwrightError as error:
        key = "paper" if "Paper" in str(error) else "bleed"
        raise table.refuse(key, str(error)) from None
