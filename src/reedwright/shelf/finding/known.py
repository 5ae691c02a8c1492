"""What is kept in memory of a shelf between two searches, as long as nothing on it changes.

Table `sought_state` has a number by lot that is another one after each change of what is searched,
so that what another process or another connection changed is seen, too.

Public: `Known`, `known_of`.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, field
from threading import Lock

from reedwright.shelf.finding.forgiving import Vocabulary
from reedwright.shelf.finding.melodies import Melodies, melodies_of
from reedwright.shelf.keeping.shelf import Shelf

MOST_KEPT = 3  # shelves, or states of one


@dataclass(slots=True)
class _Kept:
    types: tuple[str, ...] | None = None
    vocabulary: Vocabulary | None = None
    melodies: Melodies | None = None


@dataclass(frozen=True, slots=True)
class Known:
    """Asks the shelf for what nobody has asked it for in this state."""

    shelf: Shelf
    _kept: _Kept = field(default_factory=_Kept)

    @property
    def types(self) -> tuple[str, ...]:
        """The types of its tunes, in small letters."""
        if self._kept.types is None:
            rows = self.shelf.db.execute("SELECT DISTINCT type FROM sought WHERE type != ''")
            self._kept.types = tuple(str(row[0]) for row in rows)
        return self._kept.types

    @property
    def vocabulary(self) -> Vocabulary:
        """All words of its tunes."""
        if self._kept.vocabulary is None:
            rows = self.shelf.db.execute("SELECT term, doc FROM vocabulary").fetchall()
            self._kept.vocabulary = Vocabulary([row[0] for row in rows], [row[1] for row in rows])
        return self._kept.vocabulary

    @property
    def melodies(self) -> Melodies:
        """Its melodies, ready to be searched."""
        if self._kept.melodies is None:
            self._kept.melodies = melodies_of(self.shelf)
        return self._kept.melodies


_known: OrderedDict[tuple[str, int], _Kept] = OrderedDict()
_lock = Lock()


def known_of(shelf: Shelf) -> Known:
    """What is known of the shelf in its present state; to be asked at once."""
    token = int(shelf.db.execute("SELECT token FROM sought_state").fetchone()[0])
    key = (str(shelf.folder.absolute()), token)
    with _lock:
        kept = _known.pop(key, None) or _Kept()
        _known[key] = kept
        while len(_known) > MOST_KEPT:
            _known.popitem(last=False)
    return Known(shelf, kept)
