"""What a teacher decided about tunes, in the file of choices beside their tunebook.

Public: `ChoicesBeside`.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from functools import cache
from pathlib import Path

from reedwright.pack.book.pool import LIBRARY_PREFIX
from reedwright.tab.choices import ChoicesError, TuneChoices, choices_path, read_choices
from reedwright.tune.model import Tune


class ChoicesBeside:
    """Looks up choices by the file that a tune came from; each file of choices is read once.

    `tunes`: all of those files, so that no table is taken for another tune's.
    """

    def __init__(self, tunes: Iterable[Tune]) -> None:
        self._names: dict[str, set[tuple[str, str]]] = {}
        self.know(tunes)
        self._read = cache(read_choices)

    def know(self, tunes: Iterable[Tune]) -> None:
        """Further tunes of the files."""
        for tune in tunes:
            names = self._names.setdefault(os.path.normpath(tune.source), set())
            names.update((tune.number, title) for title in tune.titles)

    def of(self, tune: Tune, path: Path | None = None) -> TuneChoices | None:
        """What is decided about it in `path`, or in the file beside its own; None where there is
        none. Raises `ChoicesError`."""
        if path is not None and not path.is_file():
            raise ChoicesError(f"{path}: there is no such file of choices")
        if path is None:
            if not tune.source or tune.source.startswith(LIBRARY_PREFIX):
                return None
            path = choices_path(Path(tune.source))
            if not path.is_file():
                return None
        return self._read(path).of(tune, self._names.get(os.path.normpath(tune.source), ()))
