"""Words as they are looked for: without accents, large letters, apostrophes.

The index folds in the same way: SQLite's tokenizer takes accents off, and the letters below are
replaced in `keeping/migrations/003-words.sql`.

Public: `fold`, `words_in`, `ARTICLES`.
"""

from __future__ import annotations

import re
import unicodedata

ARTICLES = frozenset({"the", "a", "an"})

_OTHERS = str.maketrans(
    {
        **dict.fromkeys("'’‘ʼ`´", ""),
        **dict(zip("øłđðıØŁĐÐ", "olddioldd", strict=True)),
        **dict.fromkeys("ßẞ", "ss"),
        **dict.fromkeys("æÆ", "ae"),
        **dict.fromkeys("œŒ", "oe"),
        **dict.fromkeys("þÞ", "th"),
    }
)
_WORD = re.compile(r"[^\W_]+")


def fold(text: str) -> str:
    """`Ó Néill’s Føsszick` -> `o neills fosszick`."""
    letters = unicodedata.normalize("NFD", text.translate(_OTHERS))
    return "".join(sign for sign in letters if not unicodedata.combining(sign)).lower()


def words_in(text: str) -> list[str]:
    """The words of a text, folded, in order."""
    return _WORD.findall(fold(text))
