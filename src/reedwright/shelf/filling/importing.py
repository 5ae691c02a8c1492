"""Tunes taken in from files, folders and zips, however many.

Files are cut into tunes here, and what is new is read and looked at in other processes, in order.
Tunes are put on the shelf some hundred in one transaction. What was put there stays when the import
is stopped or killed, and the same import run again goes on from there, as it passes over what is
on the shelf (`known`).

Public: `import_tunes`, `ImportOptions`.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from reedwright.player.profile import Profile
from reedwright.processes import cores
from reedwright.shelf.facts.crew import in_order
from reedwright.shelf.facts.keeping import put_row, refresh
from reedwright.shelf.facts.reading import FILE, HEADER, LINE
from reedwright.shelf.filling.cutting import Outcome, Piece, pieces_of, read_pieces
from reedwright.shelf.filling.known import came_from, changed_tune, same_tune
from reedwright.shelf.filling.places import Source, sources, total_size
from reedwright.shelf.filling.report import ImportReport
from reedwright.shelf.filling.told import Told
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Kind

Progress = Callable[[float, str], None]

AT_ONCE = 200
"""Tunes in one transaction, and in what a process is handed: under a second's work."""
LARGE = 2**20  # bytes of text that make a chunk too, where tunes are long
FEW_BYTES = 300_000
"""What is less is read in this process: another one takes a second to start."""
GRADED_AT_ONCE = 200
"""Tunes whose grade is worked out with the import, some three seconds' work; more are left for
`grade_tunes`, as 50,000 would take six minutes more."""

READING, LIKENESSES = 0.75, 0.95  # shares of the whole at which each is done, for telling


@dataclass(frozen=True, slots=True)
class ImportOptions:
    """How to take tunes in.

    `update`: tunes that stand otherwise in their files now get a new state; else they are told of.
    `settings`: look for settings of one tune among what came in. `grade`: work out grades
    where few tunes came in. `player`: for whom; the shipped profile where not said. `workers`:
    processes; as many as there are cores where not said.
    """

    update: bool = False
    settings: bool = True
    grade: bool = True
    player: Profile | None = None
    workers: int | None = None


def import_tunes(
    shelf: Shelf,
    places: Sequence[Path],
    options: ImportOptions | None = None,
    progress: Progress | None = None,
) -> ImportReport:
    """Take in all tunes of the places. What cannot be read is told, and the rest goes on.

    `progress` is called with the share done (0 to 1) and what is being done. Raises `ShelfError`
    where the shelf cannot be written to; what was taken in before that stays.
    """
    return _Import(shelf, options or ImportOptions(), progress).run(places)


@dataclass(slots=True)
class _Import:
    shelf: Shelf
    options: ImportOptions
    progress: Progress | None
    added: list[int] = field(default_factory=list)
    taken: set[int] = field(default_factory=set)  # items that tunes of this import are
    same: int = 0
    removed_before: int = 0
    other_words: int = 0
    files: int = 0
    changed: list[Told] = field(default_factory=list)
    updated: list[Told] = field(default_factory=list)
    both_changed: list[Told] = field(default_factory=list)
    repaired: list[Told] = field(default_factory=list)
    remarks: list[Told] = field(default_factory=list)
    refused: list[Told] = field(default_factory=list)
    touched: list[int] = field(default_factory=list)
    total: float = 1.0
    done: float = 0.0

    def run(self, places: Sequence[Path]) -> ImportReport:
        began = time.monotonic()
        self.total = max(1.0, float(total_size(places)))
        workers = self.options.workers or cores()
        if self.total < FEW_BYTES:
            workers = 1
        for chunk, outcomes in in_order(read_pieces, self._chunks(places), workers):
            with self.shelf.change():
                for piece, outcome in zip(chunk, outcomes, strict=True):
                    self._put(piece, outcome)
            self._tell(self.done / self.total * READING, f"{len(self.added):,} tunes taken in")
        settings = self._settings()
        graded, player = self._graded()
        return ImportReport(
            added=tuple(self.added),
            same=self.same,
            removed_before=self.removed_before,
            changed=tuple(self.changed),
            updated=tuple(self.updated),
            both_changed=tuple(self.both_changed),
            repaired=tuple(self.repaired),
            remarks=tuple(self.remarks),
            refused=tuple(self.refused),
            files=self.files,
            other_words=self.other_words,
            settings=settings,
            graded=graded,
            player=player,
            seconds=time.monotonic() - began,
        )

    def _tell(self, share: float, doing: str) -> None:
        if self.progress is not None:
            self.progress(min(1.0, share), doing)

    # -- reading ----------------------------------------------------------------------------

    def _chunks(self, places: Sequence[Path]) -> Iterator[list[Piece]]:
        """What is new, in chunks; what is known is counted and passed over unread."""
        chunk: list[Piece] = []
        size = 0
        seen = 0
        for source in self._sources(places):
            for piece in pieces_of(source, self.refused.append):
                seen += 1
                self.done += piece.size
                if seen % AT_ONCE == 0:
                    self._tell(self.done / self.total * READING, "reading tunes")
                if self._is_known(piece):
                    continue
                chunk.append(piece)
                size += len(piece.text) + len(piece.content or b"")
                if len(chunk) == AT_ONCE or size > LARGE:
                    yield chunk
                    chunk, size = [], 0
        if chunk:
            yield chunk

    def _sources(self, places: Sequence[Path]) -> Iterator[Source]:
        for source in sources(places, self.refused.append):
            self.files += 1
            yield source

    def _is_known(self, piece: Piece) -> bool:
        """Whether its text is on the shelf; then it is counted."""
        match = same_tune(self.shelf, piece)
        if match is None:
            return False
        if not match.present and not match.removed and came_from(self.shelf, match.item, piece):
            return False  # the file has gone back to what it was before
        self.taken.add(match.item)
        self.same += 1
        self.removed_before += match.removed
        return True

    # -- writing ----------------------------------------------------------------------------

    def _put(self, piece: Piece, outcome: Outcome) -> None:
        if outcome.row is None:
            if outcome.refused is not None:
                self.refused.append(outcome.refused)
            return
        # Again, now that nobody else writes: it may stand twice in these files, or another process
        # may have taken it in meanwhile.
        if self._is_known(piece):
            return
        earlier = changed_tune(self.shelf, piece, outcome.name, self.taken)
        told = Told(piece.file, "", piece.line, 0, piece.number, outcome.name)
        about = _about(piece)
        if earlier is None:
            item = self.shelf.add(
                Kind.TUNE, outcome.name, piece.form, piece.text, piece.content, "imported", about
            )
        elif earlier.edited:
            self.taken.add(earlier.item)
            self.both_changed.append(told)
            return
        elif not self.options.update:
            self.taken.add(earlier.item)
            self.changed.append(told)
            return
        else:
            item = self.shelf.revise(
                earlier.item,
                piece.text,
                piece.content,
                "imported again, as its file had changed",
                outcome.name,
                piece.form,
                about,
            )
            self.updated.append(told)
        self.taken.add(item.id)
        self.touched.append(item.id)
        if earlier is None:
            self.added.append(item.id)
            self.other_words += self._has_notes_of_another(item.id, outcome)
        put_row(self.shelf, item.id, item.state.number, outcome.row)
        self.repaired += outcome.repaired
        self.remarks += outcome.remarks

    def _has_notes_of_another(self, item: int, outcome: Outcome) -> bool:
        music = (outcome.row or ())[-2]
        found = self.shelf.db.execute(
            "SELECT 1 FROM fact JOIN item ON item.id = fact.item "
            "WHERE fact.music = ? AND fact.item != ? AND item.removed = 0",
            (music, item),
        ).fetchone()
        return found is not None

    # -- what follows -----------------------------------------------------------------------

    def _settings(self) -> int | None:
        """Also for tunes whose import was stopped before it came to this."""
        if not self.options.settings:
            return None
        from reedwright.shelf.likenesses.finding_out import find_likenesses

        refresh(self.shelf)
        return find_likenesses(self.shelf, None, self._part(READING, LIKENESSES))

    def _graded(self) -> tuple[int, str]:
        if not self.options.grade or not 0 < len(self.touched) <= GRADED_AT_ONCE:
            return 0, ""
        from reedwright.player.loading import load_profile
        from reedwright.shelf.facts.grades import USUAL_PLAYER, grade_tunes

        player = self.options.player or load_profile(USUAL_PLAYER)
        telling = self._part(LIKENESSES, 1.0)
        return grade_tunes(self.shelf, player, telling, self.touched), player.name

    def _part(self, first: float, last: float) -> Progress:
        """Progress of a part of the work, as a part of the whole."""
        return lambda share, doing: self._tell(first + share * (last - first), doing)


def _about(piece: Piece) -> dict[str, str | int]:
    about: dict[str, str | int] = {FILE: piece.file, LINE: piece.line}
    if piece.form is Form.ABC:
        about["number"] = piece.number
    if piece.header:
        about[HEADER] = piece.header
    return about
