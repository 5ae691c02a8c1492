"""Rows of text that stand under the notes: tab, in whatever style made it."""

from collections.abc import Mapping
from typing import NamedTuple


class TabRow(NamedTuple):
    """One row. `texts` is keyed by the id of a note or grace note; `name` is for people."""

    name: str
    texts: Mapping[str, str]
