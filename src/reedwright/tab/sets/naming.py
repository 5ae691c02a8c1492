"""Tunes named in rules and evenings: by title or by number.

Public: `named_tune`, `named_tunes`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from reedwright.datafiles import did_you_mean
from reedwright.tab.sets.wishes import SetsError
from reedwright.tune.model import Tune


def named_tune(tunes: Sequence[Tune], name: str) -> int:
    """The place of the tune with this title (capitals and spaces aside), else with this number.

    Raises `SetsError` where there is none, or where several have it.
    """
    wanted = _tidy(name)
    for found in (
        [at for at, tune in enumerate(tunes) if wanted in map(_tidy, tune.titles or (tune.title,))],
        [at for at, tune in enumerate(tunes) if tune.number == name.strip()],
    ):
        if len(found) > 1:
            numbers = ", ".join(tunes[at].number for at in found)
            raise SetsError(f"'{name}' is the name of several tunes ({numbers}); give its number.")
        if found:
            return found[0]
    titles = [title for tune in tunes for title in tune.titles]
    raise SetsError(f"'{name}' is not among the tunes{did_you_mean(name, titles)}")


def named_tunes(tunes: Sequence[Tune], names: Iterable[str]) -> tuple[int, ...]:
    """The places of several, in order."""
    return tuple(named_tune(tunes, name) for name in names)


def _tidy(text: str) -> str:
    return " ".join(text.casefold().split())
