"""What a person types into the field for words, as questions to the index of words.

- Articles (the, a, an) are passed over, unless nothing else is typed.
- What stands between double quotes must stand together. A word with `-` right before it must not
  be there at all. (Common practice of search fields.)
- The last word counts as the beginning of one, as it may still be being typed.
- A word is also found with an s more or less (`reedmaker`, `Reedmaker's`, `reels`), and names in
  Mc, Mac and O however they are written.

Public: `Asked`, `Term`, `asked_words`, `terms_of`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from reedwright.shelf.finding.folding import ARTICLES, words_in

_CHUNK = re.compile(r'(?<!\S)(-?)(?:["“”„]([^"“”„]*)["“”„]?|(\S+))|(\S)')
_PREFIXED_NAMES = ("mc", "mac", "o")
_SHORTEST_PLURAL = 4  # letters: `as`, `his` are no plurals


@dataclass(frozen=True, slots=True)
class Term:
    """One word, or words that stand together; `typed` is folded, any of `others` will do, too."""

    typed: str
    others: tuple[str, ...] = ()
    beginning: bool = False

    @property
    def phrase(self) -> bool:
        return " " in self.typed

    def question(self) -> str:
        """For the index, which takes words in quotes as they stand."""
        parts = [f'"{each}"' for each in dict.fromkeys((self.typed, *self.others)) if each]
        if self.beginning:
            parts.append(f'"{self.typed}"*')
        return parts[0] if len(parts) == 1 else f"({' OR '.join(parts)})"


@dataclass(frozen=True, slots=True)
class Asked:
    """All of `wanted` must be there, none of `unwanted`."""

    wanted: tuple[Term, ...]
    unwanted: tuple[Term, ...] = ()


def asked_words(text: str) -> Asked:
    """What was typed, by the rules at the head of this file."""
    singles: list[str] = []
    phrases: list[Term] = []
    unwanted: list[Term] = []
    last_is_single = False
    for match in _CHUNK.finditer(text):
        minus, quoted, plain = match[1], match[2], match[3] or match[4]
        words = words_in(plain if quoted is None else quoted)
        if not words:
            continue
        last_is_single = not minus and quoted is None
        if minus:
            unwanted.append(Term(" ".join(words)))
        elif quoted is not None and len(words) > 1:
            phrases.append(Term(" ".join(_bare(words))))
        else:
            singles += words
    beginning = last_is_single and not text[-1:].isspace()
    return Asked((*phrases, *terms_of(singles, beginning)), tuple(unwanted))


def terms_of(words: list[str], beginning: bool = False) -> tuple[Term, ...]:
    """Folded words, each for itself; `beginning`: the last may be the beginning of one."""
    told = [word for word in words if word not in ARTICLES]
    if beginning and words and words[-1] in ARTICLES and told:
        beginning = False
    told = told or words
    found: list[Term] = []
    at = 0
    while at < len(told):
        word = told[at]
        following = told[at + 1] if at + 1 < len(told) else ""
        if word in _PREFIXED_NAMES and len(following) > 1:
            joined = word + following
            found.append(Term(joined, (f"{word} {following}", *_other_forms(joined))))
            at += 2
            continue
        found.append(Term(word, _other_forms(word)))
        at += 1
    if found and beginning:
        found[-1] = Term(found[-1].typed, found[-1].others, True)
    return tuple(found)


def _bare(words: list[str]) -> list[str]:
    """Without articles at either end; inside, they stand as they do in the title."""
    kept = list(words)
    while len(kept) > 1 and kept[0] in ARTICLES:
        del kept[0]
    while len(kept) > 1 and kept[-1] in ARTICLES:
        del kept[-1]
    return kept


def _other_forms(word: str) -> tuple[str, ...]:
    found = [word + "s"] if len(word) >= _SHORTEST_PLURAL - 1 and not word.endswith("s") else []
    if word.endswith("s") and not word.endswith("ss") and len(word) >= _SHORTEST_PLURAL:
        found.append(word[:-1])
    for form in (word, *found):
        for start, other in (("mac", "mc"), ("mc", "mac"), ("o", "")):
            rest = form[len(start) :]
            if form.startswith(start) and len(rest) > 3:
                found += [f"{start} {rest}"]
                found += [other + rest, f"{other} {rest}"] if other else []
                break
    return tuple(dict.fromkeys(each for each in found if each != word))
