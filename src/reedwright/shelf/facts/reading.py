"""The tune of an item, read from its state just as it was read in its book.

A tune of a tunebook may lean on the fields at the head of the file. They are kept with its state,
as `about["header"]`, and are read before it; its own text stays as it stood.

Public: `tune_of`, `tune_of_state`, `raw_tune`, `header_of`, `text_alone`.
"""

from __future__ import annotations

from pathlib import Path

from reedwright.shelf.keeping.attachments import Attachments
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item, ShelfError, State
from reedwright.tune.abc.errors import AbcError
from reedwright.tune.abc.splitting import FIELD_LINE, Line, RawTune
from reedwright.tune.abc.tune import read_tune
from reedwright.tune.model import Tune

HEADER = "header"
FILE = "file"
LINE = "line"


def tune_of(shelf: Shelf, item: Item) -> Tune:
    """The tune that an item is in its present state. Raises `ShelfError`."""
    return tune_of_state(shelf.attachments, item.name, item.state)


def tune_of_state(attachments: Attachments, name: str, state: State) -> Tune:
    """The tune that a state holds; lines of its places count from 1 in its own text.

    `name`: what the item is called, for errors. Raises `ShelfError` where there is no tune in it,
    `BadMusicXml`, `BadMidi`.
    """
    if state.form is Form.ABC:
        try:
            return read_tune(raw_tune(state.text, str(state.about.get(HEADER, ""))))
        except AbcError as error:
            raise ShelfError(f"{name}: can't be read as a tune. {error}") from None
    called = Path(str(state.about.get(FILE, name)))
    if state.form is Form.MUSICXML:
        from reedwright.tune.musicxml_in import read_musicxml

        return read_musicxml(called, attachments.read(state.attachment))
    if state.form is Form.MIDI:
        from reedwright.tune.midi_in import read_midi

        return read_midi(called, attachments.read(state.attachment))
    raise ShelfError(f"{name}: there is no tune in it.")


def raw_tune(text: str, header: str = "") -> RawTune:
    """The lines of a tune that stands alone, and those of its file's header (numbered 0). Lines may
    end as on any system."""
    lines = [line.removesuffix("\r") for line in text.removesuffix("\n").split("\n")]
    heads = header.removesuffix("\n").split("\n") if header else []
    return RawTune(
        [Line(number, line) for number, line in enumerate(lines, start=1)],
        tuple(Line(0, line) for line in heads),
    )


def header_of(raw: RawTune) -> str:
    """The fields of the file's header that bear on how its tunes are read, a line each."""
    return "".join(f"{line.text}\n" for line in raw.file_header if FIELD_LINE.match(line.text))


def text_alone(state: State) -> str:
    """The ABC of a state as a file of its own: the fields of its book's header come first."""
    header = str(state.about.get(HEADER, ""))
    return f"{header}\n{state.text}" if header else state.text
