"""Tunes put on the shelf and changed there, their facts with them in one transaction.

Public: `add_tune`, `revise_tune`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.shelf.facts.keeping import put_facts
from reedwright.shelf.facts.reading import HEADER, LINE, header_of, raw_tune
from reedwright.shelf.facts.working_out import facts_of
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item, Kind
from reedwright.tune.abc import same_music, write_abc
from reedwright.tune.abc.splitting import split_tunebook
from reedwright.tune.abc.tune import read_tune
from reedwright.tune.model import Tune
from reedwright.tune.reading import lines_of


class _Content(NamedTuple):
    """What a state of the tune is to hold."""

    form: Form
    text: str
    attachment: bytes | None
    header: str


def add_tune(
    shelf: Shelf,
    tune: Tune,
    said: str = "added",
    about: Mapping[str, str | int] | None = None,
    content: bytes | None = None,
) -> Item:
    """Put a tune on the shelf.

    Its source text is kept to the letter, or the file of MusicXML or MIDI that it was read from
    (`content`, else what `tune.source` names). A tune that was changed since it was read, or made
    by a program, is written as ABC.
    """
    held = _content(tune, content)
    facts = facts_of(tune, _file_name(tune))
    with shelf.change():
        item = shelf.add(
            Kind.TUNE,
            facts.title,
            held.form,
            held.text,
            held.attachment,
            said,
            _about(about or {}, held),
        )
        put_facts(shelf, item.id, item.state.number, facts)
    return item


def revise_tune(
    shelf: Shelf,
    item: int,
    tune: Tune,
    said: str = "changed",
    about: Mapping[str, str | int] | None = None,
    content: bytes | None = None,
    made_from: int | None = None,
) -> Item:
    """Give a tune on the shelf a new state. What was known `about` it stays, where not said.

    Raises `ChangedMeanwhile` (see `Shelf.revise`).
    """
    held = _content(tune, content)
    facts = facts_of(tune, _file_name(tune))
    with shelf.change():
        if about is None:
            # The new state does not stand in the file any more that the tune came from.
            kept = shelf.item(item).state.about
            about = {key: kept[key] for key in kept if key not in (LINE, HEADER)}
        changed = shelf.revise(
            item,
            held.text,
            held.attachment,
            said,
            facts.title,
            held.form,
            _about(about, held),
            made_from,
        )
        put_facts(shelf, item, changed.state.number, facts)
    return changed


def _about(about: Mapping[str, str | int], held: _Content) -> dict[str, str | int]:
    return {**about, HEADER: held.header} if held.header else dict(about)


def _content(tune: Tune, content: bytes | None) -> _Content:
    if tune.text:
        for header in ("", _header_in(Path(tune.source), tune.text) if tune.source else ""):
            if _reads_as(tune, tune.text, header):
                return _Content(Form.ABC, tune.text, None, header)
    else:
        if content is None and tune.source and Path(tune.source).is_file():
            content = Path(tune.source).read_bytes()
        if content is not None:
            form = Form.MIDI if content.startswith(b"MThd") else Form.MUSICXML
            return _Content(form, "", content, "")
    return _Content(Form.ABC, write_abc(tune), None, "")


def _reads_as(tune: Tune, text: str, header: str) -> bool:
    """Whether the text alone, with these fields before it, is this tune."""
    try:
        return same_music(read_tune(raw_tune(text, header)), replace(tune, text=""))
    except ReedwrightError:
        return False


def _header_in(path: Path, text: str) -> str:
    """The fields at the head of the tunebook in which this text stands."""
    if not path.is_file():
        return ""
    with path.open("rb") as file:
        for raw in split_tunebook(lines_of(file)):
            if raw.text == text:
                return header_of(raw)
    return ""


def _file_name(tune: Tune) -> str:
    return Path(tune.source).stem if tune.source else ""
