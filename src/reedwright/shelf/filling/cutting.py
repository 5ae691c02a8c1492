"""Files cut into tunes that are not read yet, and these read, in this process or another.

Public: `Piece`, `Outcome`, `pieces_of`, `read_pieces`.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import BinaryIO, NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.shelf.facts.keeping import Row, row_of
from reedwright.shelf.facts.reading import header_of
from reedwright.shelf.facts.working_out import facts_of
from reedwright.shelf.filling.archives import MOST_IN_A_FILE
from reedwright.shelf.filling.places import Source, Tell
from reedwright.shelf.filling.told import Told
from reedwright.shelf.model import Form
from reedwright.tune.abc.splitting import Line, RawTune, split_tunebook
from reedwright.tune.abc.tune import read_tune
from reedwright.tune.model import Severity, Tune
from reedwright.tune.reading import lines_of
from reedwright.tune.refused import UnreadableTune

LONGEST_TUNE = 250_000
"""Characters: a hundred times the longest of 12,978 tunes. It takes some seconds and 300 MB to read
what is as long as that; a file made to do harm would take all there is."""
LONGEST_GAP = 4 * LONGEST_TUNE
"""Characters without a line that begins a tune; what follows in the file is not read."""


class Piece(NamedTuple):
    """One tune as it stands in its file, and how much of the import it is (in bytes).

    Of ABC there are `text`, the `line` that it begins on, the `head` of its file and the
    `left_over` line after it; of MusicXML and MIDI the bytes of the file.
    """

    file: str
    form: Form
    size: float
    number: str = ""
    title: str = ""
    line: int = 1
    text: str = ""
    header: str = ""
    head: tuple[Line, ...] = ()
    left_over: Line | None = None
    content: bytes | None = None


class Outcome(NamedTuple):
    """What became of a piece: its name and facts, or else what was wrong.

    `repaired` and `remarks` are what was odd about a tune that could be read all the same.
    """

    name: str
    row: Row | None
    refused: Told | None = None
    repaired: tuple[Told, ...] = ()
    remarks: tuple[Told, ...] = ()


def pieces_of(source: Source, tell: Tell) -> Iterator[Piece]:
    """The tunes of a file; what cannot be read is told.

    A tunebook on the disk is read as a stream, of any length.
    """
    try:
        if source.form is Form.ABC:
            yield from _cut(source, tell)
            return
        content = source.content
        if content is None:
            with source.path.open("rb") as file:
                content = file.read(MOST_IN_A_FILE)
    except OSError as error:
        tell(Told(source.name, f"This file can't be read ({error.strerror or error})."))
        return
    if content:
        yield Piece(source.name, source.form, source.size, content=content)
    else:
        tell(Told(source.name, "This file is empty."))


def _cut(source: Source, tell: Tell) -> Iterator[Piece]:
    content = source.content
    whole = source.path.stat().st_size if content is None else len(content)
    each = source.size / max(1, whole)  # of the import for each byte of the text
    found = False
    lines = _Lines(source)
    for raw in split_tunebook(lines):
        found = True
        number, title = named(raw)
        if len(raw.text) > LONGEST_TUNE:
            message = f"This is longer than any tune ({len(raw.text):,} characters); not read."
            tell(Told(source.name, message, raw.lines[0].number, 0, number, title))
        else:
            yield Piece(
                source.name,
                source.form,
                each * len(raw.text),
                number,
                title,
                raw.lines[0].number,
                raw.text,
                header_of(raw),
                raw.file_header,
                raw.left_over,
            )
    message = ""
    if lines.ended_early:
        message = (
            f"No tune begins for more than {LONGEST_GAP:,} characters; the rest of this file is "
            "not read."
        )
    elif not whole:
        message = "This file is empty."
    elif not found:
        message = "There is no tune in this file. A tune in ABC begins with a line `X:1`."
    # A folder has all sorts of texts beside tunebooks; of these nobody wants to be told.
    if message and (found or source.named or Path(source.name).suffix.lower() != ".txt"):
        tell(Told(source.name, message))


class _Lines:
    """The lines of a tunebook, up to where no tune begins any more for long."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.ended_early = False

    def __iter__(self) -> Iterator[str]:
        held = None if self.source.content is None else io.BytesIO(self.source.content)
        with held or self.source.path.open("rb") as file:
            if _has_no_lines(file):
                self.ended_early = True
                return
            since = 0
            for line in lines_of(file):
                since = len(line) if line.startswith("X:") else since + len(line)
                if since > LONGEST_GAP:
                    self.ended_early = True
                    return
                yield line


def _has_no_lines(file: BinaryIO) -> bool:
    """Whether it is one line without end, which would be read whole."""
    beginning = file.read(LONGEST_GAP)
    file.seek(0)
    return len(beginning) == LONGEST_GAP and not (b"\n" in beginning or b"\r" in beginning)


def named(raw: RawTune) -> tuple[str, str]:
    """The number and the first title as they stand in the text."""
    number = title = ""
    for line in raw.lines:
        if not number and line.text.startswith("X:"):
            number = line.text[2:].strip()
        elif line.text.startswith("T:"):
            title = " ".join(line.text[2:].split())
            break
    return number, title


def read_pieces(pieces: Sequence[Piece]) -> list[Outcome]:
    """Each piece read, and its facts worked out."""
    return [_read(piece) for piece in pieces]


def _read(piece: Piece) -> Outcome:
    try:
        tune = tune_in(piece)
        facts = facts_of(tune, Path(piece.file).stem)
        row = row_of(facts)
    except UnreadableTune as error:
        return Outcome("", None, _refused(piece, error))
    except ReedwrightError as error:
        message = str(error).removeprefix(f"{piece.file}: ").removeprefix(f"{piece.file}, ")
        return Outcome("", None, _told(piece, message, piece.line))
    except Exception as error:  # a fault of ours; of fifty thousand tunes one must not stop all
        message = (
            f"Reedwright failed at this tune ({type(error).__name__}: {error}). Please tell us."
        )
        return Outcome("", None, _told(piece, message, piece.line))
    repaired: list[Told] = []
    remarks: list[Told] = []
    for problem in tune.problems:
        bar = "" if problem.bar is None else f"bar {problem.bar}: "
        told = _told(piece, bar + problem.message, problem.place.line, problem.place.column)
        (repaired if problem.severity is Severity.REPAIRED else remarks).append(told)
    return Outcome(facts.title, row, None, tuple(repaired), tuple(remarks))


def tune_in(piece: Piece) -> Tune:
    """The tune that a piece is, its places those in the file. Raises `ReedwrightError`."""
    if piece.form is Form.ABC:
        texts = piece.text.removesuffix("\n").split("\n")
        lines = [Line(number, text) for number, text in enumerate(texts, start=piece.line)]
        return read_tune(RawTune(lines, piece.head, piece.left_over), piece.file)
    if piece.form is Form.MUSICXML:
        from reedwright.tune.musicxml_in import read_musicxml

        return read_musicxml(Path(piece.file), piece.content)
    from reedwright.tune.midi_in import read_midi

    return read_midi(Path(piece.file), piece.content)


def _refused(piece: Piece, error: UnreadableTune) -> Told:
    """The reader's message without the place, which is told apart."""
    message = str(error)
    where, colon, rest = message.partition(": ")
    if colon and where.endswith(f"column {error.place.column}"):
        message = rest
    return _told(piece, message, error.place.line, error.place.column)


def _told(piece: Piece, message: str, line: int, column: int = 0) -> Told:
    if piece.form is not Form.ABC:  # places there are of an XML text or of a track
        line = column = 0
    return Told(piece.file, message, line, column, piece.number, piece.title)
