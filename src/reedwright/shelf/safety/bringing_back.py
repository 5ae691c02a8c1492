"""What `export` wrote, brought back: into an empty shelf all of it, into another what it lacks.

Items are known by their `uid`, their states by all that they say. States that the shelf lacks are
added to the item, on the branch where they belong. Where the export is simply further, the item
goes forward; where both were changed, the shelf's state stays the present one, the other is kept
beside it, and that is told. Everything is one transaction: it is all there, or nothing.

A file that is missing or is not what it was is told and left out, and so is a line of the index
that cannot be read; the rest is brought back.

Public: `bring_back`, `BroughtBack`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from reedwright.shelf.facts.keeping import refresh
from reedwright.shelf.keeping.attachments import file_sha256
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import ShelfError
from reedwright.shelf.safety.index import (
    INDEX,
    FileLine,
    ItemLine,
    NotAnIndex,
    StateLine,
    read_head,
    read_line,
)
from reedwright.shelf.safety.joining import Joining, StateRead
from reedwright.shelf.safety.verdicts import bring_verdicts

Progress = Callable[[float, str], None]

TELL_EACH = 100  # items
_BY_FILES = 0.7  # share of the work; the rest is looking at the tunes


@dataclass(frozen=True, slots=True)
class BroughtBack:
    """What came back, by name. `added`: items that the shelf did not have; `same`: how many it has
    just so, or further; `forward`: items that went forward; `both`: items changed here and there,
    one sentence each; `problems`: what could not be brought back, one sentence each."""

    added: int
    same: int
    forward: tuple[str, ...] = ()
    both: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()

    def text(self) -> str:
        """For people."""
        lines = [f"{self.added:,} brought back, {self.same:,} on the shelf already."]
        lines += [f"{name}: brought forward." for name in self.forward]
        lines += [*self.both, *self.problems]
        return "\n".join(lines)

    def report(self) -> dict[str, object]:
        """JSON-ready; the shape is in docs/formats.md."""
        return {
            "added": self.added,
            "same": self.same,
            "forward": list(self.forward),
            "both": list(self.both),
            "problems": list(self.problems),
        }


def bring_back(folder: Path, shelf: Shelf, progress: Progress | None = None) -> BroughtBack:
    """Bring back the export in a folder. `progress` is called with the share done (0 to 1).

    Raises `ShelfError` where the folder is no export, `NotWritten` where there is no room: nothing
    is brought back then.
    """
    tell = progress or (lambda share, doing: None)
    joining = Joining(shelf)
    back = _Back(folder, shelf, joining)
    with shelf.change():
        for share in back.run():
            tell(share * _BY_FILES, "bringing back")
    refresh(shelf, lambda share, doing: tell(_BY_FILES + (1 - _BY_FILES) * share, doing))
    back.problems += bring_verdicts(shelf, folder)
    tell(1.0, "brought back")
    return BroughtBack(
        joining.added,
        joining.same,
        tuple(joining.forward),
        tuple(joining.both),
        tuple(back.problems),
    )


class NotWhole(ShelfError):
    """A file of the export is missing, or is not what it was."""


@dataclass(slots=True)
class _Back:
    folder: Path
    shelf: Shelf
    brought: Joining
    problems: list[str] = field(default_factory=list)

    def run(self) -> Iterator[float]:
        """Yields the share done."""
        lines = self._lines()
        try:
            items = read_head(next(lines, (1, ""))[1])
        except NotAnIndex as error:
            raise ShelfError(f"{self.folder / INDEX}: {error}.") from None
        seen = 0
        for number, line in lines:
            try:
                self._bring(read_line(line))
            except NotAnIndex as error:
                self.problems.append(
                    f"{self.folder / INDEX}, line {number}: can't be read ({error})."
                )
            seen += 1
            if seen % TELL_EACH == 0:
                yield min(1.0, seen / max(items, 1))
        if seen < items:
            self.problems.append(
                f"{self.folder / INDEX}: {items:,} items were written, and {seen:,} are there."
            )
        self.problems += self.brought.link()

    def _lines(self) -> Iterator[tuple[int, str]]:
        path = self.folder / INDEX
        try:
            with path.open("rb") as index:
                for number, line in enumerate(index, start=1):
                    yield number, line.decode("utf-8", "replace")
        except OSError as error:
            raise ShelfError(
                f"{path}: can't be read ({error.strerror or error}). Name the folder that "
                "`reedwright shelf export` wrote."
            ) from None

    def _bring(self, line: ItemLine) -> None:
        whole = []
        for state in line.states:
            try:
                whole.append(self._read(state))
            except NotWhole as error:
                self.problems.append(str(error))
        if whole:
            self.brought.take(line, whole)

    def _read(self, state: StateLine) -> StateRead:
        """The state with what is in its files. Raises `NotWhole`."""
        text = ""
        if state.text is not None:
            try:
                text = self._checked(state.text, state).read_bytes().decode()
            except UnicodeDecodeError:
                raise NotWhole(f"{self.folder / state.text.place}: not UTF-8.") from None
        path = None if state.attachment is None else self._checked(state.attachment, state)
        return StateRead(state, text, path)

    def _checked(self, file: FileLine, state: StateLine) -> Path:
        path = self.folder / file.place
        left_out = f"State {state.number} of '{state.name}' is not brought back."
        try:
            if not path.resolve().is_relative_to(self.folder.resolve()):
                raise NotWhole(f"{path}: leads out of the export. {left_out}")
            sha256 = file_sha256(path)
        except OSError as error:
            raise NotWhole(
                f"{path}: can't be read ({error.strerror or error}). {left_out}"
            ) from None
        if sha256 != file.sha256:
            raise NotWhole(f"{path}: was changed since it was exported. {left_out}")
        return path
