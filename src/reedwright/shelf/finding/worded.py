"""Tunes by words: the index asked, and typing errors forgiven where nothing has the words.

Public: `worded`, `Worded`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from reedwright.shelf.finding.filtering import Condition
from reedwright.shelf.finding.folding import ARTICLES, words_in
from reedwright.shelf.finding.forgiving import nearest
from reedwright.shelf.finding.known import Known
from reedwright.shelf.finding.wording import Asked, Term, asked_words, terms_of
from reedwright.shelf.model import ShelfError

COLUMNS = {
    "T": "titles", "C": "composer", "O": "origin", "A": "area", "R": "rhythm", "B": "book",
    "D": "disc", "F": "file", "G": "family", "H": "history", "N": "notes", "S": "source",
    "Z": "transcriber", "W": "lyrics",
}  # fmt: skip
"""The column of the index that has a header field (ABC 2.1, section 3)."""

# How much a word counts by where it stands: titles, composer, origin ... as in the index. Ours.
_WEIGHTS = (10.0, 3.0, 1.0, 1.0, 2.0, 1.0, 1.0, 0.5, 1.0, 0.5, 0.5, 1.0, 0.5, 0.5, 0.5)
_RANK = f"bm25(words, {', '.join(str(weight) for weight in _WEIGHTS)})"
FEW_LETTERS = 2
LOOKED_AT = 200  # of the best: whose titles are compared with what was typed

Items = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Worded:
    """All tunes that have the words, the best first, and what was taken for what."""

    items: Items
    guessed: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Sought:
    """Terms by the column that they must stand in, "" for any."""

    terms: tuple[tuple[str, Term], ...]
    unwanted: tuple[Term, ...]

    def question(self) -> str:
        parts = [f"{{{column}}} : {t.question()}" if column else t.question()
                 for column, t in self.terms]  # fmt: skip
        return " AND ".join(parts)

    def with_term(self, at: int, term: Term) -> _Sought:
        terms = list(self.terms)
        terms[at] = (terms[at][0], term)
        return replace(self, terms=tuple(terms))


def worded(
    known: Known, words: str, fields: Mapping[str, str], conditions: Sequence[Condition]
) -> Worded | None:
    """The tunes with these words that hold the conditions; None where no word is asked for.

    Raises `ShelfError` for a letter that no field has.
    """
    asked = asked_words(words)
    wanted = ((_column(term), term) for term in asked.wanted)
    sought = _Sought((*wanted, *_in_fields(fields)), asked.unwanted)
    if not sought.terms and not sought.unwanted:
        return None
    guessed: dict[str, str] = {}
    for at, (_, term) in enumerate(sought.terms):
        if not term.phrase and not _there(known, term):
            sought = sought.with_term(at, _forgiven(known, term, guessed))
    items = _ask(known, sought, conditions)
    if not len(items) and not guessed:
        # Each word stands somewhere, but not together: one of them may be a slip.
        for at, (_, term) in enumerate(sought.terms):
            tried: dict[str, str] = {}
            other = term if term.phrase else _forgiven(known, term, tried)
            if tried and len(items := _ask(known, sought.with_term(at, other), conditions)):
                guessed = tried
                break
    return Worded(_titled_first(known, asked, items, guessed), guessed)


def _column(term: Term) -> str:
    """Where a word is looked for. One or two letters that are still being typed begin far too many
    words to be looked for but in titles."""
    return COLUMNS["T"] if term.beginning and len(term.typed) <= FEW_LETTERS else ""


def _in_fields(fields: Mapping[str, str]) -> list[tuple[str, Term]]:
    found: list[tuple[str, Term]] = []
    for letter, text in fields.items():
        column = COLUMNS.get(letter.upper())
        if column is None:
            raise ShelfError(
                f"'{letter}' is not a field to look for words in; "
                f"use one of {', '.join(sorted(COLUMNS))}."
            )
        found += [(column, term) for term in terms_of(words_in(text))]
    return found


def _there(known: Known, term: Term) -> bool:
    """Whether any tune may have it."""
    ask = known.shelf.db.execute
    for each in (term.typed, *term.others):
        if " " in each or ask("SELECT 1 FROM vocabulary WHERE term = ?", (each,)).fetchone():
            if " " in each and not _phrase_there(known, each):
                continue
            return True
    if not term.beginning:
        return False
    last = term.typed + "\U0010ffff"
    row = ask(
        "SELECT 1 FROM vocabulary WHERE term >= ? AND term <= ? LIMIT 1", (term.typed, last)
    ).fetchone()
    return row is not None


def _phrase_there(known: Known, phrase: str) -> bool:
    row = known.shelf.db.execute(
        "SELECT 1 FROM words WHERE words MATCH ? LIMIT 1", (f'"{phrase}"',)
    ).fetchone()
    return row is not None


def _forgiven(known: Known, term: Term, guessed: dict[str, str]) -> Term:
    """The term with the words that it may be meant for."""
    near = nearest(term.typed, known.vocabulary, term.beginning)
    if not near:
        return term
    guessed[term.typed] = " or ".join(near)
    return replace(term, others=(*term.others, *near))


def _ask(known: Known, sought: _Sought, conditions: Sequence[Condition]) -> Items:
    where = [each.sql for each in conditions]
    values: list[object] = [value for each in conditions for value in each.values]
    for term in sought.unwanted:
        where.append("s.item NOT IN (SELECT rowid FROM words WHERE words MATCH ?)")
        values.append(f'"{term.typed}"')
    if not sought.terms:
        sql = f"SELECT s.item FROM sought AS s WHERE {' AND '.join(where)} ORDER BY s.sort, s.item"
        return _items(known.shelf.db.execute(sql, values).fetchall())
    sql = (
        f"SELECT s.item, {_RANK} FROM words JOIN sought AS s ON s.item = words.rowid "
        f"WHERE words MATCH ? AND {' AND '.join(where)}"
    )
    rows = known.shelf.db.execute(sql, (sought.question(), *values)).fetchall()
    ranks = np.array([row[1] for row in rows], dtype=np.float64)
    return _items(rows)[np.argsort(ranks, kind="stable")]


def _items(rows: Sequence[Sequence[object]]) -> Items:
    return np.array([row[0] for row in rows], dtype=np.int64)


def _titled_first(known: Known, asked: Asked, items: Items, guessed: Mapping[str, str]) -> Items:
    """Of the best, those before the others whose title is what was typed, or begins so."""
    typed = [term.typed for term in asked.wanted]
    if not typed or guessed or len(items) < 2:
        return items
    best = items[:LOOKED_AT].tolist()
    marks = ", ".join("?" * len(best))
    rows = known.shelf.db.execute(f"SELECT item, sort FROM sought WHERE item IN ({marks})", best)
    like = {int(row[0]): _like(typed, str(row[1])) for row in rows}
    best.sort(key=lambda item: like[item])
    return np.concatenate((np.array(best, dtype=np.int64), items[len(best) :]))


def _like(typed: Sequence[str], title: str) -> int:
    words = [word for word in words_in(title) if word not in ARTICLES]
    return 0 if words == list(typed) else 1 if words[: len(typed)] == list(typed) else 2
